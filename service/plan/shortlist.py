"""So few bows for each booking that an assignment among them serves as many as one among all bows.

Let booking k have a list of bows that fit it, and let it end early for one of two reasons (or not at all):
 (a) it holds more bows *with room* than there are other bookings that clash with k. A bow has room if it stays within
     its limit whatever it serves of these bookings;
 (b) it holds as many bows as there are bookings.
Take an assignment that serves the most, and of those one with the most bookings served from their own lists. If k is
served by a bow b outside its list, then by (a) some bow with room is not taken by any booking that clashes with k, or
by (b) some bow of the list serves nobody. Give k that bow: it is free then, and stays within its limit, by its room or
because it fits k alone; b wears less than before. As many are served, and one more from its own list: a contradiction.
So some assignment that serves the most keeps to the lists. How wear is spread is another matter: there the lists are a
heuristic, good where each holds the bows that are preferred.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from datetime import date

from service.plan.guests import GuestBooking, HireBow, clash, life_by_time

# An assignment counts life in whole millionths, rounded up for each booking.
ROUNDED_UP = 1e-6


def clashes(bookings: Sequence[GuestBooking]) -> list[set[int]]:
    """For each booking the numbers of the others that need a bow at the same time."""
    found: list[set[int]] = [set() for _ in bookings]
    by_begin = sorted(range(len(bookings)), key=lambda k: bookings[k].first)
    for place, k in enumerate(by_begin):
        for other in by_begin[place + 1 :]:
            if bookings[other].first > bookings[k].last:
                break
            if clash(bookings[k], bookings[other]):
                found[k].add(other)
                found[other].add(k)
    return found


def most_shots(bookings: Sequence[GuestBooking]) -> float:
    """No bow can shoot more than this for these bookings: the most shots of any that follow one another.

    Bookings without hours are counted in full, which can only be too much.
    """
    timed = sorted(((*one.hours, one.shots) for one in bookings if one.hours is not None), key=lambda timed: timed[1])
    ends = [end for _begin, end, _shots in timed]
    best = [0.0]
    for n, (begin, _end, shots) in enumerate(timed):
        before = bisect_right(ends, begin, hi=n)
        best.append(max(best[-1], best[before] + shots))
    return best[-1] + sum(one.shots for one in bookings if one.hours is None)


def has_room(bow: HireBow, shots: float, bookings: int, last: date, today: date) -> bool:
    """Whether a bow stays within its limit until `last` with so many shots in so many bookings, whenever they are."""
    wear = bow.life_per_shot * shots + bookings * ROUNDED_UP
    ends = [last] if bow.new_set_on is None else [min(last, bow.new_set_on), last]
    return all(life_by_time(bow, today, day) + wear <= bow.life_limit for day in ends)


def shortlists(
    bookings: Sequence[GuestBooking], offers: Sequence[Iterable[HireBow]], today: date
) -> list[tuple[HireBow, ...]]:
    """For each booking the first bows of its offer (bows that fit it, the preferred ones first) that are enough."""
    shots, last = most_shots(bookings), max((one.last for one in bookings), default=today)
    found = []
    for rivals, offer in zip(clashes(bookings), offers, strict=True):
        taken: list[HireBow] = []
        roomy = 0
        for bow in offer:
            taken.append(bow)
            roomy += has_room(bow, shots, len(bookings), last, today)
            if roomy > len(rivals) or len(taken) >= len(bookings):
                break
        found.append(tuple(taken))
    return found
