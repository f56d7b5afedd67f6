"""Improve a plan piece by piece: free the work of some days, hold the rest, let CP-SAT solve the piece.

Pieces are windows of days, so the needs in one compete for the same minutes; a bow's needs are freed
together. Order and sizes are fixed and the effort is deterministic, so the result is too.
"""

from collections import defaultdict

import numpy as np
from numpy.typing import NDArray

from service.plan.best import Best

PIECE_NEEDS = (20, 40, 80)
"""Needs freed at a time (with the other needs of their bows), one pass over the days for each."""
PIECE_EFFORT = 0.4
"""Deterministic seconds for one piece."""


def improve(best: Best, effort: float) -> None:
    """Pass over the days with growing pieces, again while that helps; ends when the gap is met, the effort is
    used, or a round of passes finds nothing better."""
    floor = best.effort_left - effort
    found = True
    while found:
        before = best.cents
        for size in PIECE_NEEDS:
            for piece in _pieces(best, size):
                if best.gap() <= best.limits.gap or best.effort_left <= floor:
                    return
                best.search(_free(best, piece), min(PIECE_EFFORT, best.effort_left - floor))
        found = best.cents < before


def _pieces(best: Best, size: int) -> list[set[int]]:
    """Bows in order of the days on which they want work, cut into overlapping pieces of about `size` needs.

    A bow wants work on the day where it has it, or where leaving it out costs most: its due day.
    """
    frame = best.frame
    by_day: defaultdict[int, list[int]] = defaultdict(list)
    for need, one in enumerate(frame.needs):
        due = min(max(frame.problem.day_number(one.due), 0), frame.horizon - 1)
        by_day[best.spots[need][0] if need in best.spots else due].append(need)
    ordered = [need for day in sorted(by_day) for need in by_day[day]]
    step = max(1, size // 2)
    return [set(ordered[i : i + size]) for i in range(0, max(1, len(ordered) - step), step)]


def _free(best: Best, piece: set[int]) -> NDArray[np.bool_]:
    """All promising choices of the bows in the piece."""
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
    return inside & best.promising()
