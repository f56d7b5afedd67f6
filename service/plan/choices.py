"""The yes/no choices of a plan, by what they mean; each is one column of the linear program.

A need has one choice per day and technician that could work if the need were alone (day buckets, not
intervals: the interval form gives useless bounds on lateness).
"""

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from service.plan.bench import Bench, Visit
from service.plan.frame import Frame, Spot, Spots
from service.plan.linear import LinearProgram
from service.plan.state import state_of


@dataclass
class Choices:
    """Column numbers of the linear program by meaning."""

    program: LinearProgram
    at: list[dict[Spot, int]] = field(default_factory=list)
    """need -> (day, technician) -> column"""
    skip: list[int] = field(default_factory=list)
    """need -> column: left out"""
    cancelled: dict[tuple[int, int, int], int] = field(default_factory=dict)
    """(need, the need that cancels it, day of that one) -> column"""
    later: dict[int, int] = field(default_factory=dict)
    """follower -> column: left to the next plan"""
    setup: dict[Visit, dict[int, int]] = field(default_factory=dict)
    """visit -> set-up minutes -> column: the visit pays at least these set-up minutes"""
    press: dict[Visit, int] = field(default_factory=dict)
    """visit -> column: takes a press visit"""
    broken: dict[int, int] = field(default_factory=dict)
    """booking -> column: some work breaks it"""

    def on_day(self, need: int, day: int, persons: tuple[int, ...]) -> list[int]:
        return [self.at[need][day, p] for p in persons if (day, p) in self.at[need]]


def lone_spots(frame: Frame, need: int, empty: Bench) -> list[Spot]:
    """Spots that would do if the need had the shop for itself, its published spot included."""
    window = set(frame.windows[need])
    if need in frame.published and frame.published[need][0] in range(frame.windows[need].stop):
        window.add(frame.published[need][0])
    return [(d, t) for d in sorted(window) for t in frame.skilled[need] if not empty.blocks(need, (d, t))]


def choices_of(frame: Frame) -> Choices:
    """All choices with their costs; the rows that tie them together are in `rules`."""
    choices = Choices(LinearProgram())
    empty = Bench(frame)
    for need in range(len(frame.needs)):
        _choose_spots(choices, frame, need, lone_spots(frame, need, empty))
    for need in range(len(frame.needs)):
        _choose_cancelling(choices, frame, need)
    _choose_visits(choices, frame)
    _choose_bookings(choices, frame)
    _charge_waiting(choices, frame)
    return choices


def _choose_spots(choices: Choices, frame: Frame, need: int, spots: list[Spot]) -> None:
    program = choices.program
    choices.at.append({spot: program.choice(frame.place_cost(need, spot[0])) for spot in spots})
    choices.skip.append(program.choice(frame.put_off_cost(need)))
    if frame.leader[need] is not None:
        choices.later[need] = program.choice()


def _choose_cancelling(choices: Choices, frame: Frame, need: int) -> None:
    for canceller in frame.cancelled_by[need]:
        for day in sorted({d for d, _ in choices.at[canceller]}):
            if frame.may_cancel(day, need):
                column = choices.program.choice(frame.late_cost[need][day])
                choices.cancelled[need, canceller, day] = column


def _choose_visits(choices: Choices, frame: Frame) -> None:
    """Set-up in steps (levels) and press visits, only where several needs of a bow could share a visit."""
    for visit, needs in sharing_needs(choices, frame).items():
        paid = 0
        choices.setup[visit] = {}
        for level in sorted({frame.needs[n].setup_min for n in needs} - {0}):
            labour = frame.labour(level)
            choices.setup[visit][level] = choices.program.choice(labour - paid)
            paid = labour
        if any(frame.needs[n].needs_press for n in needs):
            choices.press[visit] = choices.program.choice()


def sharing_needs(choices: Choices, frame: Frame) -> dict[Visit, list[int]]:
    """Needs of bows with several needs, by the visit in which they could be done."""
    sharing: defaultdict[Visit, list[int]] = defaultdict(list)
    for need, spots in enumerate(choices.at):
        if frame.shares_bow[need]:
            for spot in spots:
                sharing[(frame.needs[need].bow, *spot)].append(need)
    return dict(sharing)


def _choose_bookings(choices: Choices, frame: Frame) -> None:
    for need, spots in enumerate(choices.at):
        for day, _ in spots:
            for booking in frame.booked.get((frame.needs[need].bow, day), ()):
                if booking not in choices.broken:
                    choices.broken[booking] = choices.program.choice(frame.booking_cost[booking])


def _charge_waiting(choices: Choices, frame: Frame) -> None:
    """Waiting = days from when the follower could be done to when it is: paid by its leader's day, given back
    by its own."""
    cost = choices.program.cost
    for follower, leader in enumerate(frame.leader):
        if leader is None or frame.wait_cost[follower] == 0:
            continue
        for (day, _), column in choices.at[leader].items():
            cost[column] += frame.wait_cost[follower] * frame.wait_days(follower, day, None)
        for (day, _), column in choices.at[follower].items():
            cost[column] -= frame.wait_cost[follower] * (frame.horizon - day)


def values_of(choices: Choices, frame: Frame, spots: Spots) -> NDArray[np.bool_]:
    """The choices that a plan stands for: a complete starting hint."""
    values = np.zeros(len(choices.program.cost), dtype=np.bool_)
    state = state_of(frame, spots)
    chosen = [choices.at[need][spot] for need, spot in spots.items()]
    chosen += [choices.cancelled[need, by, spots[by][0]] for need, by in state.cancelled.items()]
    chosen += [choices.later[need] for need in state.next_plan]
    chosen += [choices.skip[need] for need in state.left_out]
    for need, spot in spots.items():
        wanted = frame.needs[need]
        visit = (wanted.bow, *spot)
        chosen += [column for level, column in choices.setup.get(visit, {}).items() if level <= wanted.setup_min]
        if wanted.needs_press and visit in choices.press:
            chosen.append(choices.press[visit])
        chosen += [choices.broken[booking] for booking in frame.booked.get((wanted.bow, spot[0]), ())]
    values[chosen] = True
    return values


def spots_of(choices: Choices, chosen: NDArray[np.bool_]) -> Spots:
    """The plan that the choices stand for."""
    return {need: spot for need, spots in enumerate(choices.at) for spot, column in spots.items() if chosen[column]}
