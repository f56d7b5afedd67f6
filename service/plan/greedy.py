"""The first plan: due date first, each need on the cheapest day that still has room. Deterministic.

It is what a careful person would do with a calendar, the solver's starting hint and its fall-back, and the
yardstick that the solver is compared with.
"""

from service.plan.bench import Bench
from service.plan.frame import Frame, Spot, Spots, frame_of
from service.plan.outcome import Plan
from service.plan.problem import PlanProblem
from service.plan.state import canceller_of, without_pointless
from service.plan.words import plan_in_words


def first_plan(problem: PlanProblem) -> Plan:
    """A plan by due date within technician minutes, presses, parts and bookings, with every need accounted for.

    Raises nothing: a problem that exists can be planned, if only by explaining why nothing fits.
    """
    frame = frame_of(problem)
    return plan_in_words(frame, greedy_spots(frame))


def greedy_spots(frame: Frame) -> Spots:
    """Published jobs where they stand, then needs that must be placed, then the rest by due date."""
    bench = Bench(frame)
    for need in sorted(frame.published, key=lambda n: _order(frame, n)):
        spot = _published_spot(bench, need)
        if spot is not None:
            bench.place(need, spot)
            _drop_pointless(bench, need)
    for need in sorted(range(len(frame.needs)), key=lambda n: _order(frame, n)):
        if need not in bench.spots and frame.leader[need] is None:
            _place_with_followers(bench, need)
    return without_pointless(frame, bench.spots)


def _published_spot(bench: Bench, need: int) -> Spot | None:
    """The published day and technician if still allowed and free, else somebody else on the published day."""
    day, person = bench.frame.published[need]
    if day not in _published_window(bench, need):
        return None
    if not bench.blocks(need, (day, person)):
        return day, person
    return best_spot(bench, need, range(day, day + 1))


def _published_window(bench: Bench, need: int) -> range:
    """Days on which a published job may stand: as people were told it, earliest days no longer matter."""
    frame = bench.frame
    leader = frame.leader[need]
    if leader is None:
        return range(0, frame.windows[need].stop)
    if leader not in bench.spots:
        return range(0)
    return frame.follow_window(need, bench.spots[leader][0])


def _order(frame: Frame, need: int) -> tuple[bool, bool, int, int, int]:
    """Must-place first, followers after all leaders, then by due or hard latest day, dearest to leave, id."""
    one = frame.needs[need]
    due = one.due if one.hard_latest is None else min(one.due, one.hard_latest)
    return (
        not frame.must_place[need],
        frame.leader[need] is not None,
        frame.problem.day_number(due),
        -frame.skip_cost[need],
        need,
    )


def _place_with_followers(bench: Bench, need: int) -> None:
    frame = bench.frame
    spot = best_spot(bench, need, frame.windows[need])
    if spot is None and frame.must_place[need]:
        spot = _make_room(bench, need)
    if spot is None or not _worth_it(bench, need, spot):
        return
    bench.place(need, spot)
    _drop_pointless(bench, need)
    for follower in frame.followers[need]:
        if follower in bench.spots:
            continue
        place = best_spot(bench, follower, frame.follow_window(follower, spot[0]))
        if place is not None:
            bench.place(follower, place)


def _worth_it(bench: Bench, need: int, spot: Spot) -> bool:
    """Placing costs no more than leaving it out, or than letting a placed need cancel it."""
    frame = bench.frame
    canceller = canceller_of(frame, bench.spots, need)
    otherwise = [] if canceller is None else [frame.late_cost[need][bench.spots[canceller][0]]]
    if not frame.must_place[need]:
        otherwise.append(frame.put_off_cost(need))
    return not otherwise or added_cost(bench, need, spot) <= min(otherwise)


def added_cost(bench: Bench, need: int, spot: Spot) -> int:
    """Cents that placing the need there adds, given what is placed; waits and cancelling left aside."""
    frame = bench.frame
    return frame.place_cost(need, spot[0]) + bench.booking_cost(need, spot) + bench.setup_cost(need, spot)


def best_spot(bench: Bench, need: int, window: range) -> Spot | None:
    """Cheapest open day; of equals the earliest, then the technician who already has the bow, then the one
    with fewest skills (keeping the versatile one free), then the one with most time left."""
    frame = bench.frame
    open_spots = [(d, t) for d in window for t in frame.skilled[need] if not bench.blocks(need, (d, t))]

    def preference(spot: Spot) -> tuple[int, int, int, int, int, int]:
        day, person = spot
        return (
            added_cost(bench, need, spot),
            day,
            bench.extra_minutes(need, spot),
            len(frame.technicians[person].skills),
            -bench.minutes_left[person][day],
            person,
        )

    return min(open_spots, key=preference, default=None)


def _make_room(bench: Bench, need: int) -> Spot | None:
    """Take off the one published job, least dear to leave out, whose going lets a must-place need in."""
    frame = bench.frame
    movable = [n for n in bench.spots if not frame.must_place[n] and frame.leader[n] is None]
    for other in sorted(movable, key=lambda n: (frame.skip_cost[n], n)):
        taken = {n: bench.spots[n] for n in (other, *frame.followers[other]) if n in bench.spots}
        for one in taken:
            bench.remove(one)
        spot = best_spot(bench, need, frame.windows[need])
        if spot is not None:
            return spot
        for one, place in taken.items():
            bench.place(one, place)
    return None


def _drop_pointless(bench: Bench, placed: int) -> None:
    if not bench.frame.cancels[placed] and not bench.frame.cancelled_by[placed]:
        return
    kept = without_pointless(bench.frame, bench.spots)
    for need in [n for n in bench.spots if n not in kept]:
        bench.remove(need)
