"""What moving one job would cost, before it is saved: every rule checked again, in one sentence."""

from dataclasses import dataclass
from datetime import date

from service.plan.bench import Bench
from service.plan.costs import from_cents
from service.plan.frame import Frame, Spot, frame_of, spots_in
from service.plan.greedy import best_spot
from service.plan.objective import cost_of
from service.plan.outcome import Limit, Plan
from service.plan.problem import PlanProblem
from service.plan.state import canceller_of, without_pointless
from service.plan.units import day_name, money
from service.plan.words import plan_in_words
from service.said import joined, say


@dataclass(frozen=True)
class MoveCost:
    """`extra`: currency, negative when the move saves; None when a rule forbids it (`limits` says which).
    `along`: other needs that get another day, or none any more. `plan`: the plan after the move."""

    allowed: bool
    limits: tuple[Limit, ...]
    extra: float | None
    along: tuple[str, ...]
    sentence: str
    plan: Plan | None


def cost_of_move(problem: PlanProblem, plan: Plan, need: str, day: date, technician: str | None = None) -> MoveCost:
    """Cost of putting `need` (placed or not) on `day`, with `technician` or, if None, whoever is cheapest.

    The work that follows it (settle-in re-check) moves along where it must. Raises ValueError for a need or a
    technician that the problem does not know.
    """
    frame = frame_of(problem)
    if need not in frame.number:
        raise ValueError(f"need {need} is not in this plan; pick one of its {len(frame.needs)} needs.")
    number, day_number = frame.number[need], problem.day_number(day)
    people = _people(frame, number, technician)
    bench = Bench(frame, spots_in(frame, plan))
    before = cost_of(frame, bench.spots).total
    if not 0 <= day_number < frame.horizon:
        span = say("%(first)s to %(last)s", first=day_name(problem.days[0]), last=day_name(problem.days[-1]))
        return _refused((Limit.WINDOW,), say("%(day)s is outside the plan, %(span)s.", day=day_name(day), span=span))
    old = dict(bench.spots)
    loose = [n for n in (number, *frame.followers[number]) if n in bench.spots]
    for one in loose:
        bench.remove(one)
    if refusal := _outside_window(bench, number, day_number):
        return refusal
    spot = _cheapest(bench, number, [(day_number, person) for person in people])
    if spot is None:
        return _blocked(bench, number, day_number, people)
    bench.place(number, spot)
    _follow(bench, number, [one for one in loose if one != number], old)
    return _moved(bench, number, old, before)


def _people(frame: Frame, need: int, technician: str | None) -> list[int]:
    if technician is None:
        return list(frame.skilled[need])
    known = [index for index, person in enumerate(frame.technicians) if person.id == technician]
    if not known:
        raise ValueError(f"technician {technician} is not at this site; pick one who is.")
    return known


def _refused(limits: tuple[Limit, ...], sentence: str) -> MoveCost:
    return MoveCost(False, limits, None, (), sentence, None)


def _outside_window(bench: Bench, need: int, day: int) -> MoveCost | None:
    frame = bench.frame
    one, leader = frame.needs[need], frame.leader[need]
    if leader is not None and leader not in bench.spots:
        return _refused(
            (Limit.LEADER,),
            say("%(follows)s, which it follows, is not in this plan.", follows=frame.needs[leader].called),
        )
    if leader is not None and day not in frame.follow_window(need, bench.spots[leader][0]):
        first, last = one.after_days
        return _refused(
            (Limit.LEADER,),
            say(
                "it must come %(first)s to %(last)s days after %(follows)s.",
                first=first,
                last=last,
                follows=frame.needs[leader].called,
            ),
        )
    if day < frame.windows[need].start:
        return _refused(
            (Limit.WINDOW,), say("it may not be done before %(earliest)s.", earliest=day_name(one.earliest))
        )
    if day >= frame.windows[need].stop and one.hard_latest is not None:
        return _refused(
            (Limit.WINDOW,), say("its latest day is %(hard_latest)s.", hard_latest=day_name(one.hard_latest))
        )
    canceller = canceller_of(frame, bench.spots, need)
    if canceller is not None and bench.spots[canceller][0] <= day:
        on = day_name(frame.problem.days[bench.spots[canceller][0]])
        return _refused(
            (Limit.CHEAPER,),
            say("%(id)s on %(on)s makes it pointless by then.", id=frame.needs[canceller].called, on=on),
        )
    return None


def _cheapest(bench: Bench, need: int, spots: list[Spot]) -> Spot | None:
    frame = bench.frame
    bow = frame.needs[need].bow
    free = [spot for spot in spots if not bench.blocks(need, spot)]
    return min(free, key=lambda s: (cost_of(frame, {**bench.spots, need: s}, bow).total, s), default=None)


def _blocked(bench: Bench, need: int, day: int, people: list[int]) -> MoveCost:
    frame = bench.frame
    one = frame.needs[need]
    if not people:
        return _refused((Limit.SKILL,), say('no technician of the site has the skill "%(skill)s".', skill=one.skill))
    blocks = {p: bench.blocks(need, (day, p)) for p in people}
    # What stops somebody who is there says more than that somebody else is not.
    person = min(people, key=lambda p: (Limit.ABSENT in blocks[p], len(blocks[p]), p))
    limits = blocks[person]
    words = [joined("", [say(limit.value), _numbers(bench, need, (day, person), limit)]) for limit in limits]
    where = say(
        "%(days)s with %(called)s", days=day_name(frame.problem.days[day]), called=frame.technicians[person].called
    )
    return _refused(limits, say("%(where)s is not possible: %(words)s.", where=where, words=joined("; ", words)))


def _numbers(bench: Bench, need: int, spot: Spot, limit: Limit) -> str:
    if limit is Limit.MINUTES:
        return say(
            " (needs %(bench)s, %(minutes_left)s left)",
            bench=bench.extra_minutes(need, spot),
            minutes_left=bench.minutes_left[spot[1]][spot[0]],
        )
    if limit is Limit.PART:
        return say(" (cord spec %(bench)s)", bench=bench.lacking_part(need, spot[0]))
    return ""


def _follow(bench: Bench, leader: int, followers: list[int], old: dict[int, Spot]) -> None:
    """Followers keep their spot where the distance allows it, else take the cheapest open one."""
    frame = bench.frame
    for follower in followers or frame.followers[leader]:
        window = frame.follow_window(follower, bench.spots[leader][0])
        spot = old.get(follower)
        if spot is None or spot[0] not in window or bench.blocks(follower, spot):
            spot = best_spot(bench, follower, window)
        if spot is not None:
            bench.place(follower, spot)


def _moved(bench: Bench, need: int, old: dict[int, Spot], before: int) -> MoveCost:
    frame = bench.frame
    spots = without_pointless(frame, bench.spots)
    extra = cost_of(frame, spots).total - before
    others = [n for n in {*old, *spots} if n != need and old.get(n) != spots.get(n)]
    along = sorted((frame.needs[n] for n in others), key=lambda one: one.id)
    day, person = spots[need]
    amount = money(frame.problem, abs(extra))
    change = (
        say("costs nothing")
        if extra == 0
        else say("costs %(amount)s more", amount=amount)
        if extra > 0
        else say("saves %(amount)s", amount=amount)
    )
    where = say(
        "%(days)s with %(called)s", days=day_name(frame.problem.days[day]), called=frame.technicians[person].called
    )
    tail = say("; %(along)s changes with it", along=joined(", ", [one.called for one in along])) if along else ""
    sentence = say(
        "%(id)s on %(where)s %(change)s%(tail)s.", id=frame.needs[need].called, where=where, change=change, tail=tail
    )
    return MoveCost(True, (), from_cents(extra), tuple(one.id for one in along), sentence, plan_in_words(frame, spots))
