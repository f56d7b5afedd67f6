"""A plan in words: placements by name and, for each need without a day, the limit that blocks it, in numbers."""

from collections import Counter
from collections.abc import Iterable

from service.plan.bench import Bench
from service.plan.frame import Frame, Spot, Spots
from service.plan.moved import moved_jobs
from service.plan.objective import cost_of
from service.plan.outcome import Cancelled, Limit, Placement, Plan, Unplaced
from service.plan.state import State, state_of
from service.plan.units import day_name, days_in_words, money
from service.said import joined, say


def plan_in_words(frame: Frame, spots: Spots) -> Plan:
    """Name every placement and account for every need that has none."""
    bench = Bench(frame, spots)
    state = state_of(frame, spots)
    return Plan(
        placements=tuple(
            sorted(
                (placement(frame, n, spot) for n, spot in spots.items()),
                key=lambda p: (p.day, p.technician, p.need),
            )
        ),
        cancelled=tuple(
            Cancelled(frame.needs[c].id, frame.needs[by].id, frame.problem.days[spots[by][0]])
            for c, by in sorted(state.cancelled.items())
        ),
        unplaced=tuple(
            why_unplaced(bench, state, n) for n in sorted((*state.not_called_for, *state.next_plan, *state.left_out))
        ),
        moved=moved_jobs(bench, state),
    )


def placement(frame: Frame, need: int, spot: Spot) -> Placement:
    return Placement(frame.needs[need].id, frame.problem.days[spot[0]], frame.technicians[spot[1]].id)


def why_unplaced(bench: Bench, state: State, need: int) -> Unplaced:
    """The limit that blocks a need, judged against everything else in the plan."""
    frame = bench.frame
    one = frame.needs[need]
    if need in state.not_called_for:
        return Unplaced(
            one.id,
            Limit.LEADER,
            say("%(follows)s, which it follows, is not in this plan.", follows=_leader_called(frame, need)),
        )
    if need in state.next_plan:
        leader_day = frame.problem.days[state.spots[_leader(frame, need)][0]]
        text = say(
            "it follows %(follows)s on %(leader_day)s, and its days run past the horizon.",
            follows=_leader_called(frame, need),
            leader_day=day_name(leader_day),
        )
        return Unplaced(one.id, Limit.NEXT_PLAN, text)
    window = _window(frame, state.spots, need)
    if not window:
        return Unplaced(one.id, Limit.WINDOW, _no_window(frame, need))
    if not frame.skilled[need]:
        return Unplaced(
            one.id, Limit.SKILL, say('no technician of the site has the skill "%(skill)s".', skill=one.skill)
        )
    return _blocked(bench, need, window)


def _leader(frame: Frame, need: int) -> int:
    leader = frame.leader[need]
    if leader is None:
        raise KeyError(f"need {frame.needs[need].id} follows none")
    return leader


def _leader_called(frame: Frame, need: int) -> str:
    return frame.needs[_leader(frame, need)].called


def _window(frame: Frame, spots: Spots, need: int) -> range:
    leader = frame.leader[need]
    return frame.windows[need] if leader is None else frame.follow_window(need, spots[leader][0])


def _no_window(frame: Frame, need: int) -> str:
    one, days = frame.needs[need], frame.problem.days
    if one.earliest > days[-1]:
        return say(
            "may not be done before %(earliest)s, after the horizon's end on %(days)s.",
            earliest=day_name(one.earliest),
            days=day_name(days[-1]),
        )
    return say(
        "no day of the horizon from %(first)s to %(last)s lies in its window.",
        first=day_name(days[0]),
        last=day_name(days[-1]),
    )


def _blocked(bench: Bench, need: int, window: range) -> Unplaced:
    frame = bench.frame
    blocks = {(d, t): bench.blocks(need, (d, t)) for d in window for t in frame.skilled[need]}
    span = _span(frame, window)
    free = [spot for spot, limits in blocks.items() if not limits]
    if free:
        return _left_for_later(bench, need, free)
    alone = Counter(limits[0] for limits in blocks.values() if len(limits) == 1)
    limit = max(alone, key=lambda found: (alone[found], found)) if alone else Limit.TOGETHER
    return Unplaced(
        frame.needs[need].id,
        limit,
        say(
            "%(span)s: %(tally)s%(hint)s",
            span=span,
            tally=_tally(bench, need, blocks),
            hint=_hint(bench, need, window),
        ),
    )


def _span(frame: Frame, window: range) -> str:
    first, last = day_name(frame.problem.days[window[0]]), day_name(frame.problem.days[window[-1]])
    return first if first == last else say("%(first)s to %(last)s", first=first, last=last)


def _left_for_later(bench: Bench, need: int, free: list[Spot]) -> Unplaced:
    """An open day exists: either leaving the need out costs no more, or the search ended too soon."""
    frame = bench.frame
    spot = min(free, key=lambda s: (frame.place_cost(need, s[0]) + bench.booking_cost(need, s), s))
    there = cost_of(frame, {**bench.spots, need: spot}).total
    left = cost_of(frame, bench.spots).total
    where = say(
        "%(days)s with %(called)s", days=day_name(frame.problem.days[spot[0]]), called=frame.technicians[spot[1]].called
    )
    if there >= left and not frame.must_place[need]:
        more = money(frame.problem, there - left)
        text = say(
            "the cheapest open day, %(where)s, would cost %(more)s more than leaving it for later.",
            where=where,
            more=more,
        )
        return Unplaced(frame.needs[need].id, Limit.CHEAPER, text)
    text = say("%(where)s is open, but the effort allowed ended first; allow more effort.", where=where)
    return Unplaced(frame.needs[need].id, Limit.NOT_FOUND, text)


def _tally(bench: Bench, need: int, blocks: dict[Spot, tuple[Limit, ...]]) -> str:
    """How many days each limit blocks (a day counts for a limit when it meets it with every able technician)."""
    by_day: dict[int, set[Limit]] = {}
    for (day, _), limits in sorted(blocks.items()):
        by_day[day] = by_day[day] & set(limits) if day in by_day else set(limits)
    counts = Counter(limit for limits in by_day.values() for limit in limits)
    mixed = sum(1 for limits in by_day.values() if not limits)
    parts = [
        say(
            "%(limit)s on %(count)s%(bench)s",
            limit=say(limit.value),
            count=days_in_words(count),
            bench=_detail(bench, need, limit, blocks),
        )
        for limit, count in sorted(counts.items())
    ]
    if mixed:
        parts.append(say("one limit or another for each technician on %(mixed)s", mixed=days_in_words(mixed)))
    return joined("; ", parts)


def _detail(bench: Bench, need: int, limit: Limit, spots: Iterable[Spot]) -> str:
    frame = bench.frame
    if limit is Limit.MINUTES:
        left, day, person = max((bench.minutes_left[t][d], -d, -t) for d, t in spots if frame.is_open[d])
        least = min(bench.extra_minutes(need, spot) for spot in spots)
        longest = max(max(frame.technicians[t].minutes) for t in frame.skilled[need])
        if least > longest:
            return say(
                " (needs %(least)s minutes; the longest day of anyone with the skill has %(longest)s)",
                least=least,
                longest=longest,
            )
        where = say(
            "%(called)s on %(days)s", called=frame.technicians[-person].called, days=day_name(frame.problem.days[-day])
        )
        return say(" (needs %(least)s minutes; most left is %(left)s, %(where)s)", least=least, left=left, where=where)
    if limit is Limit.PART:
        specs = {bench.lacking_part(need, day) for day, _ in spots} - {None}
        return say(" (none free of cord spec %(spec)s)", spec=joined(", ", sorted(str(spec) for spec in specs)))
    return ""


def _hint(bench: Bench, need: int, window: range) -> str:
    """For a need with a hard latest day: the first open day after it, up to which the bow stays held."""
    frame = bench.frame
    one = frame.needs[need]
    if one.hard_latest is None or window[-1] == frame.horizon - 1:
        return "."
    hold = say("; the bow is to be held after %(hard_latest)s", hard_latest=day_name(one.hard_latest))
    for day in range(window.stop, frame.horizon):
        if any(not bench.blocks(need, (day, person)) for person in frame.skilled[need]):
            return say(
                "%(hold)s, and the first open day is %(days)s.", hold=hold, days=day_name(frame.problem.days[day])
            )
    return say("%(hold)s, and no later day of the horizon is open either.", hold=hold)
