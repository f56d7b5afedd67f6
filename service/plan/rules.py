"""The plan's hard limits, one named function per rule; each adds its rows to the linear program."""

from collections import defaultdict

from service.plan.bench import Visit
from service.plan.choices import Choices, sharing_needs
from service.plan.frame import Frame

Terms = list[tuple[int, int]]


def add_rules(choices: Choices, frame: Frame) -> None:
    """Every limit of planning.md except the order of precedence (held bows, published jobs): see `precedence`."""
    sharing = sharing_needs(choices, frame)
    each_need_has_one_fate(choices, frame)
    visits_pay_their_longest_set_up(choices, frame, sharing)
    technicians_keep_their_minutes(choices, frame)
    presses_keep_their_visits(choices, frame, sharing)
    parts_are_there_when_used(choices, frame)
    cancelling_takes_a_placed_canceller(choices)
    followers_keep_their_distance(choices, frame)
    broken_bookings_are_paid(choices, frame)


def each_need_has_one_fate(choices: Choices, frame: Frame) -> None:
    """Placed once, or cancelled, or left out; a follower has a fate exactly when its leader is placed."""
    cancels: defaultdict[int, Terms] = defaultdict(list)
    for (need, _, _), column in choices.cancelled.items():
        cancels[need].append((column, 1))
    for need, spots in enumerate(choices.at):
        terms = [(column, 1) for column in spots.values()] + cancels[need] + [(choices.skip[need], 1)]
        leader = frame.leader[need]
        if leader is None:
            choices.program.require(terms, 1, 1)
        else:
            terms.append((choices.later[need], 1))
            terms += [(column, -1) for column in choices.at[leader].values()]
            choices.program.require(terms, 0, 0)


def visits_pay_their_longest_set_up(choices: Choices, frame: Frame, sharing: dict[Visit, list[int]]) -> None:
    """The needs of a bow that one technician does on one day share one set-up, the longest of theirs."""
    for visit, needs in sharing.items():
        for level, paid in choices.setup[visit].items():
            wanting = [n for n in needs if frame.needs[n].setup_min >= level]
            for group in never_together(frame, wanting):
                terms = [(choices.at[n][visit[1:]], -1) for n in group]
                choices.program.require([(paid, 1), *terms], low=0)


def never_together(frame: Frame, needs: list[int]) -> list[list[int]]:
    """Groups of a bow's needs of which a sensible plan does at most one in one visit; each need is in one or more.

    A leader and its follower of a later day exclude each other, and so do a canceller and what it cancels;
    then the cancelled need and the follower do as well (one lies before the leader's day, one after).
    Charging such a group together instead of one by one lifts the linear bound by several per cent.
    """
    groups = []
    for need in needs:
        followers = [f for f in frame.followers[need] if f in needs and frame.needs[f].after_days[0] > 0]
        cancelled = [c for c in frame.cancels[need] if c in needs]
        if followers and cancelled:
            groups += [[need, follower, other] for follower in followers for other in cancelled]
        else:
            groups += [[need, other] for other in followers or cancelled] or [[need]]
    return [g for g in groups if not any(set(g) < set(wider) for wider in groups)]


def technicians_keep_their_minutes(choices: Choices, frame: Frame) -> None:
    """Bench and set-up minutes of a day stay within the technician's minutes of that day."""
    used: defaultdict[tuple[int, int], Terms] = defaultdict(list)
    for need, spots in enumerate(choices.at):
        wanted = frame.needs[need]
        minutes = wanted.bench_min + (0 if frame.shares_bow[need] else wanted.setup_min)
        for spot, column in spots.items():
            used[spot].append((column, minutes))
    for (_, day, person), levels in choices.setup.items():
        paid = 0
        for level, column in levels.items():
            used[day, person].append((column, level - paid))
            paid = level
    for (day, person), terms in used.items():
        choices.program.require(terms, high=frame.technicians[person].minutes[day])


def presses_keep_their_visits(choices: Choices, frame: Frame, sharing: dict[Visit, list[int]]) -> None:
    """No more visits take a press on a day than the presses allow; a visit takes one once."""
    taken: defaultdict[int, Terms] = defaultdict(list)
    for need, spots in enumerate(choices.at):
        if frame.needs[need].needs_press and not frame.shares_bow[need]:
            for (day, _), column in spots.items():
                taken[day].append((column, 1))
    for visit, press in choices.press.items():
        taken[visit[1]].append((press, 1))
        for group in never_together(frame, [n for n in sharing[visit] if frame.needs[n].needs_press]):
            choices.program.require([(press, 1), *((choices.at[n][visit[1:]], -1) for n in group)], low=0)
    for day, terms in taken.items():
        choices.program.require(terms, high=frame.problem.press_visits[day])


def parts_are_there_when_used(choices: Choices, frame: Frame) -> None:
    """By no day are more cords of a spec used than have come in; checked on the last day before each arrival."""
    uses: defaultdict[str, list[tuple[int, int, int]]] = defaultdict(list)
    for need, spots in enumerate(choices.at):
        for use in frame.needs[need].parts:
            uses[use.cord_spec] += [(day, column, use.count) for (day, _), column in spots.items()]
    for spec, terms in uses.items():
        supply = frame.supply[spec]
        for day in range(frame.horizon):
            if day == frame.horizon - 1 or supply[day] < supply[day + 1]:
                by_then = [(column, count) for used, column, count in terms if used <= day]
                choices.program.require(by_then, high=int(supply[day]))


def cancelling_takes_a_placed_canceller(choices: Choices) -> None:
    """A need is cancelled on a day only when its canceller is placed on that day."""
    for (_, canceller, day), column in choices.cancelled.items():
        placed = [(c, -1) for (d, _), c in choices.at[canceller].items() if d == day]
        choices.program.require([(column, 1), *placed], high=0)


def followers_keep_their_distance(choices: Choices, frame: Frame) -> None:
    """A follower comes `after_days` (first..last) after its leader, or is left to the next plan when that
    reaches past the horizon. Written on running totals, which keeps the relaxation tight."""
    for follower, leader in enumerate(frame.leader):
        if leader is None:
            continue
        first, last = frame.needs[follower].after_days
        own, lead = choices.at[follower], choices.at[leader]
        for day in range(frame.horizon):
            done = [(c, 1) for (d, _), c in own.items() if d <= day]
            could = [(c, -1) for (d, _), c in lead.items() if d <= day - first]
            choices.program.require(done + could if done else [], high=0)
            must = [(c, -1) for (d, _), c in lead.items() if d <= day - last]
            late = [*done, (choices.skip[follower], 1)]
            choices.program.require(late + must if must else [], low=0)
        past_end = [(c, -1) for (d, _), c in lead.items() if frame.may_follow_later(follower, d)]
        choices.program.require([(choices.later[follower], 1), *past_end], high=0)


def broken_bookings_are_paid(choices: Choices, frame: Frame) -> None:
    """Work on a booked bow breaks the booking, once however much work it is."""
    for need, spots in enumerate(choices.at):
        inside: defaultdict[int, Terms] = defaultdict(list)
        for (day, _), column in spots.items():
            for booking in frame.booked.get((frame.needs[need].bow, day), ()):
                inside[booking].append((column, -1))
        for booking, terms in inside.items():
            choices.program.require([(choices.broken[booking], 1), *terms], low=0)
