"""A first assignment by one look at each booking: the soonest first, each to the bow that the shop prefers for it.

Where everybody for whom any bow fits gets one, no assignment serves more, and nothing need be searched.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from datetime import date

from service.plan.guests import GuestBooking, HireBow, clash, life_by_time


def first_come(
    bookings: Sequence[GuestBooking],
    offer: Callable[[GuestBooking], Iterable[HireBow]],
    today: date,
    *,
    level: bool,
) -> dict[str, HireBow]:
    """Booking reference -> bow. `offer`: the bows that fit a booking, the preferred ones first by their wear today.

    `level`: the least worn, what it serves already counted; else the first of its offer.
    """
    serves: dict[str, list[GuestBooking]] = defaultdict(list)
    found: dict[str, HireBow] = {}
    # Who asks for a very bow is offered no other.
    for booking in sorted(bookings, key=lambda one: (one.bow is None, one.first, one.hours or (), one.reference)):
        best: HireBow | None = None
        for bow in offer(booking):
            if best is not None and (not level or bow.life_used >= _used(best, serves[best.id])):
                break
            if _is_free(booking, bow, serves[bow.id], today) and (
                best is None or _used(bow, serves[bow.id]) < _used(best, serves[best.id])
            ):
                best = bow
        if best is not None:
            found[booking.reference] = best
            serves[best.id].append(booking)
    return found


def _used(bow: HireBow, serves: Sequence[GuestBooking]) -> float:
    return bow.life_used + bow.life_per_shot * sum(one.shots for one in serves)


def _is_free(booking: GuestBooking, bow: HireBow, serves: Sequence[GuestBooking], today: date) -> bool:
    """Whether the bow can serve it as well: nobody else has it then, and it stays within its limit to each end."""
    if any(clash(booking, other) for other in serves):
        return False
    together = [*serves, booking]
    return all(_life_at(one, bow, together, today) <= bow.life_limit for one in together)


def _life_at(end: GuestBooking, bow: HireBow, served: Sequence[GuestBooking], today: date) -> float:
    new_set = bow.has_new_set(end.last)
    shots = sum(one.shots for one in served if one.last <= end.last and bow.has_new_set(one.last) == new_set)
    return life_by_time(bow, today, end.last) + bow.life_per_shot * shots
