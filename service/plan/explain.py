"""Why each need is on its day: what the neighbouring days would have cost, or what keeps it off them.

Judged with the rest of the plan as it is. (Why a need has no day is in `Plan.unplaced`, why a published job
moved in `Plan.moved`.)
"""

from dataclasses import dataclass
from datetime import date

from service.plan.bench import Bench
from service.plan.costs import from_cents
from service.plan.frame import Frame, Spot, frame_of, spots_in
from service.plan.greedy import best_spot
from service.plan.objective import cost_of
from service.plan.outcome import Limit, Plan
from service.plan.problem import PlanProblem
from service.plan.units import day_name, money
from service.said import joined, say


@dataclass(frozen=True)
class Neighbour:
    """Another day for a placed need: `extra` (currency, negative when cheaper) with the technician for whom it
    is least, or the limit that keeps it off the day."""

    day: date
    technician: str | None
    extra: float | None
    limit: Limit | None


@dataclass(frozen=True)
class WhyThisDay:
    """`earlier` and `later` are the days searched on each side, nearest first, up to the first open one."""

    need: str
    day: date
    technician: str
    earlier: tuple[Neighbour, ...]
    later: tuple[Neighbour, ...]
    sentence: str


def explain(problem: PlanProblem, plan: Plan) -> tuple[WhyThisDay, ...]:
    """One explanation per placed need, in the order of the plan's placements."""
    frame = frame_of(problem)
    bench = Bench(frame, spots_in(frame, plan))
    return tuple(_why(bench, frame.number[p.need]) for p in plan.placements)


def _why(bench: Bench, need: int) -> WhyThisDay:
    frame = bench.frame
    day, person = bench.spots[need]
    window = frame.windows[need]
    earlier = _until_open(bench, need, range(day - 1, window.start - 1, -1))
    later = _until_open(bench, need, range(max(day + 1, window.start), window.stop))
    return WhyThisDay(
        need=frame.needs[need].id,
        day=frame.problem.days[day],
        technician=frame.technicians[person].id,
        earlier=earlier,
        later=later,
        sentence=_sentence(frame, need, day, earlier, later),
    )


def _until_open(bench: Bench, need: int, days: range) -> tuple[Neighbour, ...]:
    found: list[Neighbour] = []
    for day in days:
        found.append(_neighbour(bench, need, day))
        if found[-1].limit is None:
            break
    return tuple(found)


def _neighbour(bench: Bench, need: int, day: int) -> Neighbour:
    """The least extra cost of the day, or the limit that the best-placed technician meets there.

    Work that follows the need moves along where it must.
    """
    frame = bench.frame
    date_there = frame.problem.days[day]
    if not _keeps_distance_to_leader(bench, need, day):
        return Neighbour(date_there, None, None, Limit.LEADER)
    now = cost_of(frame, bench.spots, frame.needs[need].bow).total
    along = [f for f in frame.followers[need] if f in bench.spots]
    loose = [f for f in along if bench.spots[f][0] not in frame.follow_window(f, day)]
    homes = {one: bench.remove(one) for one in (*loose, need)}
    blocks = {person: bench.blocks(need, (day, person)) for person in frame.skilled[need]}
    totals = {p: _cost_there(bench, need, (day, p), loose) for p, limits in blocks.items() if not limits}
    for one, home in homes.items():
        bench.place(one, home)
    extra = {person: total - now for person, total in totals.items() if total is not None}
    if extra:
        person = min(extra, key=lambda p: (extra[p], p))
        return Neighbour(date_there, frame.technicians[person].id, from_cents(extra[person]), None)
    if totals:
        return Neighbour(date_there, None, None, Limit.LEADER)
    # What stops somebody who is there says more than that somebody else is not.
    fewest = min(blocks.values(), key=lambda limits: (Limit.ABSENT in limits, len(limits), limits))
    return Neighbour(date_there, None, None, fewest[0] if len(fewest) == 1 else Limit.TOGETHER)


def _cost_there(bench: Bench, need: int, spot: Spot, loose: list[int]) -> int | None:
    """Cents of the bow's part of the plan with the need there and its loose followers behind it; None: no room."""
    frame = bench.frame
    bench.place(need, spot)
    placed = [need]
    for follower in loose:
        place = best_spot(bench, follower, frame.follow_window(follower, spot[0]))
        if place is not None:
            bench.place(follower, place)
            placed.append(follower)
    fits = len(placed) == len(loose) + 1
    total = cost_of(frame, bench.spots, frame.needs[need].bow).total if fits else None
    for one in placed:
        bench.remove(one)
    return total


def _keeps_distance_to_leader(bench: Bench, need: int, day: int) -> bool:
    leader = bench.frame.leader[need]
    return leader is None or day in bench.frame.follow_window(need, bench.spots[leader][0])


def _sentence(frame: Frame, need: int, day: int, earlier: tuple[Neighbour, ...], later: tuple[Neighbour, ...]) -> str:
    opening = day_name(frame.problem.days[day])
    if frame.published.get(need, (None, None))[0] == day:
        opening = say("%(day)s is published", day=opening)
    before = _side(frame, earlier, say("no earlier day is allowed in this plan"), say("earlier"))
    after = _side(frame, later, say("no later day is allowed in this plan"), say("later"))
    return say("%(opening)s; %(before)s; %(after)s.", opening=opening, before=before, after=after)


def _side(frame: Frame, side: tuple[Neighbour, ...], none: str, word: str) -> str:
    if not side:
        return none
    blocked = [
        say("%(day)s: %(limit)s", day=day_name(n.day), limit=_limit(n.limit)) for n in side if n.limit is not None
    ]
    last = side[-1]
    if last.extra is None:
        if len(blocked) > 1:
            return say("%(word)s: no open day (%(blocked)s and so on)", word=word, blocked=blocked[0])
        return say("%(word)s: no open day (%(blocked)s)", word=word, blocked=blocked[0])
    more = money(frame.problem, round(abs(last.extra) * 100))
    if last.extra < 0:
        price = say("%(day)s would cost %(less)s less", day=day_name(last.day), less=more)
    else:
        price = say("%(day)s would cost %(more)s more", day=day_name(last.day), more=more)
    return say("%(word)s: %(what)s", word=word, what=joined("; ", [*blocked[:2], price]))


def _limit(limit: Limit) -> str:
    return say("the work before or after it is too near or too far") if limit is Limit.LEADER else say(limit.value)
