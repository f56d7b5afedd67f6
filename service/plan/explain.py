"""Why each need is on its day: what the neighbouring days would have cost, or what keeps it off them.

Judged with the rest of the plan as it is. (Why a need has no day is in `Plan.unplaced`, why a published job
moved in `Plan.moved`.)
"""

from dataclasses import dataclass
from datetime import date

from service.plan.bench import Bench
from service.plan.costs import from_cents
from service.plan.frame import Frame, frame_of, spots_in
from service.plan.objective import cost_of
from service.plan.outcome import Limit, Plan
from service.plan.problem import PlanProblem
from service.plan.units import day_name, money


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
    """The least extra cost of the day, or the limit that the best-placed technician meets there."""
    frame = bench.frame
    bow, date_there = frame.needs[need].bow, frame.problem.days[day]
    if not _keeps_distance(bench, need, day):
        return Neighbour(date_there, None, None, Limit.LEADER)
    now = cost_of(frame, bench.spots, bow).total
    home = bench.remove(need)
    blocks = {person: bench.blocks(need, (day, person)) for person in frame.skilled[need]}
    extra = {
        person: cost_of(frame, {**bench.spots, need: (day, person)}, bow).total - now
        for person, limits in blocks.items()
        if not limits
    }
    bench.place(need, home)
    if not extra:
        fewest = min(blocks.values(), key=lambda limits: (len(limits), limits))
        return Neighbour(date_there, None, None, fewest[0] if len(fewest) == 1 else Limit.TOGETHER)
    person = min(extra, key=lambda p: (extra[p], p))
    return Neighbour(date_there, frame.technicians[person].id, from_cents(extra[person]), None)


def _keeps_distance(bench: Bench, need: int, day: int) -> bool:
    """The day keeps the distance to the work that it follows and to the work that follows it."""
    frame = bench.frame
    leader = frame.leader[need]
    if leader is not None:
        return day in frame.follow_window(need, bench.spots[leader][0])
    followers = [f for f in frame.followers[need] if f in bench.spots]
    return all(bench.spots[f][0] in frame.follow_window(f, day) for f in followers)


def _sentence(frame: Frame, need: int, day: int, earlier: tuple[Neighbour, ...], later: tuple[Neighbour, ...]) -> str:
    opening = day_name(frame.problem.days[day])
    if frame.published.get(need, (None, None))[0] == day:
        opening += " is published"
    before = _side(frame, earlier, "no earlier day is allowed in this plan", "earlier")
    after = _side(frame, later, "no later day is allowed in this plan", "later")
    return f"{opening}; {before}; {after}."


def _side(frame: Frame, side: tuple[Neighbour, ...], none: str, word: str) -> str:
    if not side:
        return none
    blocked = [f"{day_name(n.day)}: {_limit(n.limit)}" for n in side if n.limit is not None]
    last = side[-1]
    if last.extra is None:
        return f"{word}: no open day ({blocked[0]}{' and so on' if len(blocked) > 1 else ''})"
    more = money(frame.problem, round(abs(last.extra) * 100))
    price = f"{day_name(last.day)} would cost {more} {'less' if last.extra < 0 else 'more'}"
    return f"{word}: {'; '.join([*blocked[:2], price])}"


def _limit(limit: Limit) -> str:
    return "the work before or after it is too near or too far" if limit is Limit.LEADER else str(limit)
