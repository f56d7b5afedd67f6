"""The running account of a plan under construction: what is left, and which limits keep a need off a day.

A *visit* is one bow with one technician on one day. It pays set-up once (the longest of its needs) and takes
one press visit when any of its needs wants the press.
"""

from collections import Counter, defaultdict

from service.plan.frame import Frame, Spot, Spots
from service.plan.outcome import Limit

Visit = tuple[str, int, int]
"""(bow, day number, technician index)"""


class Bench:
    """Minutes, press visits and parts still free, given the needs placed so far."""

    def __init__(self, frame: Frame, spots: Spots | None = None) -> None:
        self.frame = frame
        self.spots: Spots = {}
        self.visits: defaultdict[Visit, list[int]] = defaultdict(list)
        self.minutes_left = [list(person.minutes) for person in frame.technicians]
        self.press_left = list(frame.problem.press_visits)
        self.parts_left = {spec: total.copy() for spec, total in frame.supply.items()}
        self.broken_bookings: Counter[int] = Counter()
        for need, spot in sorted((spots or {}).items()):
            self.place(need, spot)

    def setup_of(self, visit: Visit, without: int | None = None) -> int:
        return max((self.frame.needs[n].setup_min for n in self.visits.get(visit, ()) if n != without), default=0)

    def uses_press(self, visit: Visit, without: int | None = None) -> bool:
        return any(self.frame.needs[n].needs_press for n in self.visits.get(visit, ()) if n != without)

    def extra_setup(self, need: int, spot: Spot) -> int:
        """Set-up minutes that this need would add to the visit."""
        wanted = self.frame.needs[need]
        return max(0, wanted.setup_min - self.setup_of((wanted.bow, *spot), without=need))

    def extra_minutes(self, need: int, spot: Spot) -> int:
        return self.frame.needs[need].bench_min + self.extra_setup(need, spot)

    def takes_press(self, need: int, spot: Spot) -> bool:
        """The need would take a press visit that its visit does not have yet."""
        wanted = self.frame.needs[need]
        return wanted.needs_press and not self.uses_press((wanted.bow, *spot), without=need)

    def blocks(self, need: int, spot: Spot) -> tuple[Limit, ...]:
        """Every limit that keeps an unplaced need from this day and technician; empty when it fits."""
        day, person = spot
        wanted = self.frame.needs[need]
        found = []
        if person not in self.frame.skilled[need]:
            found.append(Limit.SKILL)
        if (wanted.bow, day) in self.frame.away:
            found.append(Limit.AWAY)
        if not self.frame.is_open[day]:
            found.append(Limit.CLOSED)
        elif self.frame.technicians[person].minutes[day] == 0 and self.extra_minutes(need, spot) > 0:
            found.append(Limit.ABSENT)
        elif self.extra_minutes(need, spot) > self.minutes_left[person][day]:
            found.append(Limit.MINUTES)
        if self.takes_press(need, spot) and self.press_left[day] < 1:
            found.append(Limit.PRESS)
        if self.lacking_part(need, day) is not None:
            found.append(Limit.PART)
        return tuple(found)

    def lacking_part(self, need: int, day: int) -> str | None:
        """The first cord spec of which taking this need's cords on `day` would leave fewer than none, some day."""
        for use in self.frame.needs[need].parts:
            if self.parts_left[use.cord_spec][day:].min() < use.count:
                return use.cord_spec
        return None

    def booking_cost(self, need: int, spot: Spot) -> int:
        """Cents of the bookings that this need would be the first to break."""
        booked = self.frame.booked.get((self.frame.needs[need].bow, spot[0]), ())
        return sum(self.frame.booking_cost[b] for b in booked if self.broken_bookings[b] == 0)

    def setup_cost(self, need: int, spot: Spot) -> int:
        """Cents of avoidable set-up labour that this need would add."""
        wanted = self.frame.needs[need]
        before = self.setup_of((wanted.bow, *spot), without=need)
        after = max(before, wanted.setup_min)
        return self.frame.avoidable_setup_labour(need, after) - self.frame.avoidable_setup_labour(need, before)

    def place(self, need: int, spot: Spot) -> None:
        self._take(need, spot, +1)
        self.visits[(self.frame.needs[need].bow, *spot)].append(need)
        self.spots[need] = spot

    def remove(self, need: int) -> Spot:
        """Take a placed need off again; returns where it was."""
        spot = self.spots.pop(need)
        self.visits[(self.frame.needs[need].bow, *spot)].remove(need)
        self._take(need, spot, -1)
        return spot

    def _take(self, need: int, spot: Spot, sign: int) -> None:
        day, person = spot
        wanted = self.frame.needs[need]
        self.minutes_left[person][day] -= sign * self.extra_minutes(need, spot)
        if self.takes_press(need, spot):
            self.press_left[day] -= sign
        for use in wanted.parts:
            self.parts_left[use.cord_spec][day:] -= sign * use.count
        for booking in self.frame.booked.get((wanted.bow, day), ()):
            self.broken_bookings[booking] += sign
