"""Improve a plan piece by piece: free the work of some days, hold the rest, let CP-SAT solve the piece.

Pieces are windows of days, so the needs in one compete for the same minutes; a bow's needs are freed
together. Order and sizes are fixed and the effort is deterministic, so the result is too.
"""

import itertools
from collections import defaultdict

import numpy as np
from numpy.typing import NDArray

from service.plan.best import Best

PIECES = ((20, 1), (40, 1), (40, 3), (60, 6))
"""(needs, spread): pieces of so many needs, taken at random from a window of days with `spread` times as many.
Unspread pieces order a day or two; spread ones move work between days."""
PIECE_EFFORT = 0.3
"""Deterministic seconds for one piece."""
REACH = (0.4, 1.0)
"""Reduced costs looked at in alternating rounds, in mean costs per need."""


def improve(best: Best, effort: float) -> None:
    """Pass over the days with each sort of piece, again while that helps; ends when the gap is met, the effort
    is used, or a round of passes finds nothing better."""
    floor = best.effort_left - effort
    rng = np.random.default_rng(best.limits.seed)
    stale = 0
    for reach in itertools.cycle(REACH):
        before, near = best.cents, best.near(reach)
        for size, spread in PIECES:
            for piece in _pieces(best, rng, size, spread):
                if best.gap() <= best.limits.gap or best.effort_left <= floor:
                    return
                best.search(near & _belongs(best, piece), min(PIECE_EFFORT, best.effort_left - floor))
        stale = 0 if best.cents < before else stale + 1
        if stale == len(REACH):
            return


def _pieces(best: Best, rng: np.random.Generator, size: int, spread: int) -> list[set[int]]:
    """Needs in order of the days on which they want work, in overlapping windows, some drawn from each.

    A need wants work on the day where it has it, or where leaving it out costs most: its due day.
    """
    frame = best.frame
    by_day: defaultdict[int, list[int]] = defaultdict(list)
    for need, one in enumerate(frame.needs):
        due = min(max(frame.problem.day_number(one.due), 0), frame.horizon - 1)
        by_day[best.spots[need][0] if need in best.spots else due].append(need)
    ordered = [need for day in sorted(by_day) for need in by_day[day]]
    wide = size * spread
    step = max(1, size // 2)
    windows = [ordered[i : i + wide] for i in range(0, max(1, len(ordered) - wide + step), step)]
    return [{int(n) for n in rng.permutation(window)[:size]} for window in windows]


def _belongs(best: Best, piece: set[int]) -> NDArray[np.bool_]:
    """All choices of the bows in the piece."""
    frame, choices = best.frame, best.choices
    bows = {frame.needs[need].bow for need in piece}
    columns: list[int] = []
    for need, one in enumerate(frame.needs):
        if one.bow in bows:
            columns += [*choices.at[need].values(), choices.skip[need]]
    columns += [c for (need, _, _), c in choices.cancelled.items() if frame.needs[need].bow in bows]
    columns += [c for need, c in choices.later.items() if frame.needs[need].bow in bows]
    columns += [c for visit, levels in choices.setup.items() if visit[0] in bows for c in levels.values()]
    columns += [c for visit, c in choices.press.items() if visit[0] in bows]
    columns += [c for booking, c in choices.broken.items() if frame.problem.bookings[booking].bow in bows]
    inside = np.zeros(len(choices.program.cost), dtype=np.bool_)
    inside[columns] = True
    return inside
