"""Published jobs that are not where they were published, each with the reason.

Published days stay unless they must move, so every reason is a limit: the old spot is no longer allowed, or
it no longer has room beside work that comes first.
"""

from datetime import timedelta

from service.plan.bench import Bench
from service.plan.frame import Spot
from service.plan.outcome import Limit, Moved
from service.plan.state import State
from service.plan.units import day_name
from service.said import joined, say


def moved_jobs(bench: Bench, state: State) -> tuple[Moved, ...]:
    frame = bench.frame
    return tuple(_moved(bench, state, n) for n, spot in sorted(frame.published.items()) if state.spots.get(n) != spot)


def _moved(bench: Bench, state: State, need: int) -> Moved:
    frame = bench.frame
    day, person = frame.published[need]
    now = state.spots.get(need)
    return Moved(
        need=frame.needs[need].id,
        published_day=frame.problem.days[0] + timedelta(days=day),
        published_technician=frame.technicians[person].id,
        day=None if now is None else frame.problem.days[now[0]],
        technician=None if now is None else frame.technicians[now[1]].id,
        sentence=_reason(bench, state, need, (day, person)),
    )


def _reason(bench: Bench, state: State, need: int, spot: Spot) -> str:
    frame = bench.frame
    one, person = frame.needs[need], frame.technicians[spot[1]]
    day = day_name(frame.problem.days[0] + timedelta(days=spot[0]))
    if need in state.cancelled:
        return say("%(id)s makes it pointless.", id=frame.needs[state.cancelled[need]].called)
    if need in state.not_called_for:
        return say("%(follows)s, which it follows, is not in this plan.", follows=_leader_called(bench, need))
    if spot[0] < 0:
        return say("%(day)s is past and it was not done.", day=day)
    if spot[0] >= frame.horizon:
        return say("%(day)s lies after the horizon.", day=day)
    if one.hard_latest is not None and not frame.must_place[need] and spot[0] >= frame.windows[need].stop:
        return say("%(day)s is after its latest day, %(hard_latest)s.", day=day, hard_latest=day_name(one.hard_latest))
    if frame.leader[need] is not None and (moved := _leader_moved(bench, state, need, spot)):
        return moved
    limits = _blocks_elsewhere(bench, need, spot)
    if not limits:
        return _changed_with_others(bench, need, spot)
    what = joined("; ", [_in_words(bench, need, spot, limit) for limit in limits])
    return say("%(day)s with %(called)s: %(what)s.", day=day, called=person.called, what=what)


def _leader_called(bench: Bench, need: int) -> str:
    leader = bench.frame.leader[need]
    if leader is None:
        raise KeyError(f"need {bench.frame.needs[need].id} follows none")
    return bench.frame.needs[leader].called


def _leader_moved(bench: Bench, state: State, need: int, spot: Spot) -> str | None:
    frame = bench.frame
    leader = frame.leader[need]
    if leader is None or leader not in state.spots:
        return None
    leader_day = state.spots[leader][0]
    if spot[0] in frame.follow_window(need, leader_day):
        return None
    return say(
        "%(id)s, which it follows, is on %(days)s.",
        id=frame.needs[leader].called,
        days=day_name(frame.problem.days[leader_day]),
    )


def _blocks_elsewhere(bench: Bench, need: int, spot: Spot) -> tuple[Limit, ...]:
    """Limits at the old spot with the job taken off where it is now."""
    now = bench.remove(need) if need in bench.spots else None
    limits = bench.blocks(need, spot)
    if now is not None:
        bench.place(need, now)
    return limits


def _in_words(bench: Bench, need: int, spot: Spot, limit: Limit) -> str:
    frame = bench.frame
    one, (day, person) = frame.needs[need], spot
    if limit is Limit.SKILL:
        return say('no longer has the skill "%(skill)s"', skill=one.skill)
    if limit is Limit.AWAY:
        return say("bow %(bow)s is out", bow=one.bow)
    if limit is Limit.CLOSED:
        return say("the shop is closed")
    if limit is Limit.ABSENT:
        return say("is not at the bench that day")
    if limit is Limit.PRESS:
        return say("all %(press_visits)s press visits are taken", press_visits=frame.problem.press_visits[day])
    if limit is Limit.PART:
        return say("no cord of spec %(bench)s is free by then", bench=bench.lacking_part(need, day))
    wanted, left = bench.extra_minutes(need, spot), bench.minutes_left[person][day]
    return say(
        "needs %(wanted)s minutes and %(left)s are left beside %(bench)s",
        wanted=wanted,
        left=left,
        bench=_first_ones(bench, spot),
    )


def _first_ones(bench: Bench, spot: Spot) -> str:
    """The work that keeps the minutes: what must be placed, and what else is published there."""
    frame = bench.frame
    there = [n for n, at in sorted(bench.spots.items()) if at == spot]
    first = [frame.needs[n].called for n in there if frame.must_place[n] or frame.published.get(n) == spot]
    return joined(", ", first) if first else say("the other work of that day")


def _changed_with_others(bench: Bench, need: int, spot: Spot) -> str:
    """Room is left at the old spot once the plan is whole: the job had to make way for another while it was made."""
    frame = bench.frame
    day = day_name(frame.problem.days[spot[0]])
    return say("made way on %(day)s for work that must be placed; the plan is the best found, not proven.", day=day)
