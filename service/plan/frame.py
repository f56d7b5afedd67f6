"""The problem in numbers: needs and technicians by index, days by number, money in whole cents.

Built once per problem and only read afterwards. Needs and technicians are sorted by id, so that the order
in which a caller lists them cannot change the plan.
"""

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.plan.costs import to_cents
from service.plan.outcome import Plan
from service.plan.problem import Need, PlanProblem, Technician

Spot = tuple[int, int]
"""(day number, technician index)"""
Spots = dict[int, Spot]
"""Where each placed need is: need index -> spot."""

MINUTES_IN_AN_HOUR = 60


@dataclass(frozen=True)
class Frame:
    """Indexed view of a PlanProblem; money is in cents, time in minutes and day numbers."""

    problem: PlanProblem
    needs: tuple[Need, ...]
    technicians: tuple[Technician, ...]
    number: dict[str, int]
    horizon: int
    is_open: tuple[bool, ...]
    windows: tuple[range, ...]
    must_place: tuple[bool, ...]
    day_cost: tuple[tuple[int, ...], ...]
    late_cost: tuple[tuple[int, ...], ...]
    skip_cost: tuple[int, ...]
    wait_cost: tuple[int, ...]
    skilled: tuple[tuple[int, ...], ...]
    on_bow: dict[str, tuple[int, ...]]
    shares_bow: tuple[bool, ...]
    cancels: tuple[tuple[int, ...], ...]
    cancelled_by: tuple[tuple[int, ...], ...]
    followers: tuple[tuple[int, ...], ...]
    leader: tuple[int | None, ...]
    away: frozenset[tuple[str, int]]
    booked: dict[tuple[str, int], tuple[int, ...]]
    booking_cost: tuple[int, ...]
    supply: dict[str, NDArray[np.int64]]
    published: Spots

    def labour(self, minutes: int) -> int:
        """Cents for minutes of labour at the site's rate."""
        return to_cents(self.problem.labour_per_hour * minutes / MINUTES_IN_AN_HOUR)

    def avoidable_bench_labour(self, need: int) -> int:
        """Bench labour counts only where a plan can avoid it: for needs that another one may cancel."""
        return self.labour(self.needs[need].bench_min) if self.cancelled_by[need] else 0

    def avoidable_setup_labour(self, need: int, minutes: int) -> int:
        """Set-up labour counts only where it can be shared: on bows with several needs."""
        return self.labour(minutes) if self.shares_bow[need] else 0

    def put_off_cost(self, need: int) -> int:
        """Cost of leaving a need out: its own, and its labour, which is put off and not saved."""
        setup = self.avoidable_setup_labour(need, self.needs[need].setup_min)
        return self.skip_cost[need] + self.avoidable_bench_labour(need) + setup

    def place_cost(self, need: int, day: int) -> int:
        """Early, late and avoidable bench labour cost of a day; set-up, bookings and waits come on top."""
        return self.day_cost[need][day] + self.avoidable_bench_labour(need)

    def follow_window(self, follower: int, leader_day: int) -> range:
        """Day numbers on which a follower may be done once its leader's day is known."""
        first, last = self.needs[follower].after_days
        own = self.windows[follower]
        return range(max(own.start, leader_day + first), min(own.stop, leader_day + last + 1))

    def may_follow_later(self, follower: int, leader_day: int) -> bool:
        """The follower's last day lies past the horizon, so it may be left to the next plan."""
        return leader_day + self.needs[follower].after_days[1] >= self.horizon

    def wait_days(self, follower: int, leader_day: int, day: int | None) -> int:
        """Days inside the horizon on which the follower could be done already and is not."""
        return max(0, (self.horizon if day is None else day) - leader_day - self.needs[follower].after_days[0])

    def may_cancel(self, canceller_day: int, need: int) -> bool:
        """Done on that day, the canceller still answers the need before its own hard latest day."""
        return canceller_day < self.windows[need].stop


def frame_of(problem: PlanProblem) -> Frame:
    """Index a problem; cost and memory grow with needs x days."""
    needs = tuple(sorted(problem.needs, key=lambda need: need.id))
    technicians = tuple(sorted(problem.technicians, key=lambda person: person.id))
    number = {need.id: index for index, need in enumerate(needs)}
    person_number = {person.id: index for index, person in enumerate(technicians)}
    away, booked = _booked_days(problem)
    on_bow: defaultdict[str, list[int]] = defaultdict(list)
    for index, need in enumerate(needs):
        on_bow[need.bow].append(index)
    cancelled_by, followers = _links(needs, number)
    return Frame(
        problem=problem,
        needs=needs,
        technicians=technicians,
        number=number,
        horizon=problem.horizon,
        is_open=tuple(day not in problem.closed for day in problem.days),
        windows=tuple(problem.window(need) for need in needs),
        must_place=tuple(problem.must_place(need) for need in needs),
        day_cost=tuple(_day_cost(need) for need in needs),
        late_cost=tuple(tuple(to_cents(amount) for amount in need.late_cost) for need in needs),
        skip_cost=tuple(to_cents(need.unplaced_cost) for need in needs),
        wait_cost=tuple(to_cents(need.wait_cost_per_day) for need in needs),
        skilled=tuple(tuple(i for i, t in enumerate(technicians) if n.skill in t.skills) for n in needs),
        on_bow={bow: tuple(found) for bow, found in on_bow.items()},
        shares_bow=tuple(len(on_bow[need.bow]) > 1 for need in needs),
        cancels=tuple(tuple(sorted(number[c] for c in need.cancels)) for need in needs),
        cancelled_by=cancelled_by,
        followers=followers,
        leader=tuple(None if need.follows is None else number[need.follows] for need in needs),
        away=away,
        booked=booked,
        booking_cost=tuple(to_cents(booking.cost) for booking in problem.bookings),
        supply=_supply(problem),
        published=_published(problem, number, person_number),
    )


def _day_cost(need: Need) -> tuple[int, ...]:
    """Early and late together, in cents, by day."""
    pairs = zip(need.early_cost, need.late_cost, strict=True)
    return tuple(to_cents(early) + to_cents(late) for early, late in pairs)


def _published(problem: PlanProblem, number: dict[str, int], person: dict[str, int]) -> dict[int, Spot]:
    """Where the published jobs stand: need number -> day number and technician number."""
    return {number[job.need]: (problem.day_number(job.day), person[job.technician]) for job in problem.published}


def _links(
    needs: tuple[Need, ...], number: dict[str, int]
) -> tuple[tuple[tuple[int, ...], ...], tuple[tuple[int, ...], ...]]:
    cancelled_by: list[list[int]] = [[] for _ in needs]
    followers: list[list[int]] = [[] for _ in needs]
    for index, need in enumerate(needs):
        for other in need.cancels:
            cancelled_by[number[other]].append(index)
        if need.follows is not None:
            followers[number[need.follows]].append(index)
    return tuple(map(tuple, cancelled_by)), tuple(map(tuple, followers))


def _booked_days(
    problem: PlanProblem,
) -> tuple[frozenset[tuple[str, int]], dict[tuple[str, int], tuple[int, ...]]]:
    away: set[tuple[str, int]] = set()
    booked: defaultdict[tuple[str, int], list[int]] = defaultdict(list)
    for index, booking in enumerate(problem.bookings):
        first = max(0, problem.day_number(booking.first))
        last = min(problem.horizon - 1, problem.day_number(booking.last))
        for day in range(first, last + 1):
            if booking.away:
                away.add((booking.bow, day))
            else:
                booked[booking.bow, day].append(index)
    return frozenset(away), {key: tuple(found) for key, found in booked.items()}


def _supply(problem: PlanProblem) -> dict[str, NDArray[np.int64]]:
    """Cords of each spec that have come in by the end of each day; a spec without a stock record has none."""
    named = {use.cord_spec for need in problem.needs for use in need.parts}
    supply = {spec: np.zeros(problem.horizon, dtype=np.int64) for spec in named}
    for stock in problem.stock:
        total = np.full(problem.horizon, stock.on_hand, dtype=np.int64)
        for arrival in stock.arrivals:
            total[max(0, problem.day_number(arrival.day)) :] += arrival.count
        supply[stock.cord_spec] = total
    return supply


def spots_in(frame: Frame, plan: Plan) -> Spots:
    """Where a plan has its needs; placements of needs that the problem does not know are left out."""
    person = {one.id: index for index, one in enumerate(frame.technicians)}
    return {
        frame.number[p.need]: (frame.problem.day_number(p.day), person[p.technician])
        for p in plan.placements
        if p.need in frame.number and p.technician in person
    }
