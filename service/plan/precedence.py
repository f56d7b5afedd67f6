"""What comes before money: bows held for work, then published days, then published technicians.

Each is kept as far as any plan can keep it, in that order (held bows cannot be skipped; published days stay
unless they must move), and only then does the cost decide. Where the first plan keeps all of them nothing
has to be solved for.
"""

from dataclasses import dataclass

import numpy as np

from service.plan.choices import Choices, spots_of, values_of
from service.plan.frame import Frame, Spots
from service.plan.search import Search, search
from service.plan.state import state_of

Terms = list[tuple[int, int]]


@dataclass(frozen=True)
class Kept:
    """The plan that keeps most, what of it is out of reach, and whether that is proven."""

    spots: Spots
    held_left_out: int
    days_moved: int
    technicians_moved: int
    proven: bool
    effort: float


def held(choices: Choices, frame: Frame) -> list[int]:
    """Needs that must be placed and could be, alone in the shop (the others no plan can place)."""
    reachable = {need for need, _, _ in choices.cancelled}
    return [n for n in range(len(frame.needs)) if frame.must_place[n] and (choices.at[n] or n in reachable)]


def keepable(choices: Choices, frame: Frame) -> list[int]:
    """Published jobs whose day is still possible; a follower only together with its published leader."""
    possible = {n for n, (day, _) in frame.published.items() if any(d == day for d, _ in choices.at[n])}
    return sorted(n for n in possible if frame.leader[n] is None or frame.leader[n] in possible)


def keep_most(choices: Choices, frame: Frame, spots: Spots, effort: float, seed: int) -> Kept:
    """Find how much can be kept, add it to the program as rows, and return a plan that keeps it.

    `spots` is the first plan. Nothing is solved when it keeps everything already.
    """
    found = _counted(choices, frame, spots, proven=True, effort=0.0)
    if found.held_left_out or found.days_moved or found.technicians_moved:
        run = _search(choices, frame, spots, effort, seed)
        better = spots if run.chosen is None else spots_of(choices, run.chosen)
        found = _counted(choices, frame, better, run.proven, run.effort)
    _require(choices, frame, found)
    return found


def _day_terms(choices: Choices, frame: Frame, need: int) -> Terms:
    """Choices that keep a published day: any technician on it, or a cancelling that makes the job pointless."""
    day = frame.published[need][0]
    kept = [(column, 1) for (d, _), column in choices.at[need].items() if d == day]
    return kept + [(column, 1) for (n, _, _), column in choices.cancelled.items() if n == need]


def _technician_terms(choices: Choices, frame: Frame, need: int) -> Terms:
    """Choices that keep the published day but give the job to somebody else without having to."""
    spot = frame.published[need]
    if spot not in choices.at[need]:
        return []
    return [(c, 1) for (d, t), c in choices.at[need].items() if d == spot[0] and t != spot[1]]


def _search(choices: Choices, frame: Frame, spots: Spots, effort: float, seed: int) -> Search:
    published = keepable(choices, frame)
    a_day = len(published) + 1
    a_held_bow = a_day * (len(published) + 1)
    cost = [0] * len(choices.program.cost)
    for need in held(choices, frame):
        cost[choices.skip[need]] += a_held_bow
    for need in published:
        for column, _ in _day_terms(choices, frame, need):
            cost[column] -= a_day
        for column, _ in _technician_terms(choices, frame, need):
            cost[column] += 1
    hint = values_of(choices, frame, spots)
    everything = np.ones(len(cost), dtype=np.bool_)
    return search(cost, choices.program.rows(), hint, everything, effort, 0.0, seed)


def _counted(choices: Choices, frame: Frame, spots: Spots, proven: bool, effort: float) -> Kept:
    left_out = set(state_of(frame, spots).left_out)
    values = values_of(choices, frame, spots)
    published = keepable(choices, frame)
    return Kept(
        spots=spots,
        held_left_out=sum(1 for need in held(choices, frame) if need in left_out),
        days_moved=sum(1 - sum(int(values[c]) for c, _ in _day_terms(choices, frame, n)) for n in published),
        technicians_moved=sum(int(values[c]) for n in published for c, _ in _technician_terms(choices, frame, n)),
        proven=proven,
        effort=effort,
    )


def _require(choices: Choices, frame: Frame, found: Kept) -> None:
    program, published = choices.program, keepable(choices, frame)
    skipped = [(choices.skip[need], 1) for need in held(choices, frame)]
    program.require(skipped, high=found.held_left_out)
    days = [_day_terms(choices, frame, need) for need in published]
    if found.days_moved == 0:
        for terms in days:
            program.require(terms, low=1)
    else:
        program.require([t for terms in days for t in terms], low=len(published) - found.days_moved)
    others = [term for need in published for term in _technician_terms(choices, frame, need)]
    program.require(others, high=found.technicians_moved)
