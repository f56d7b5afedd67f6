"""Cost arrays by day of the horizon, in the site's currency, from a due day and money per day.

All functions return one amount per day of the horizon: what is lost when the work is done on that day.
`due` is a day number (0 = the plan's first day) and may lie before or after the horizon.
"""

import itertools
from collections.abc import Sequence

CENTS = 100


def to_cents(amount: float) -> int:
    """Whole hundredths of the currency: the solver's unit, so that sums are exact."""
    return round(amount * CENTS)


def from_cents(cents: int) -> float:
    return cents / CENTS


def no_cost(horizon: int) -> tuple[float, ...]:
    return (0.0,) * horizon


def late_by_day(due: int, per_day: float, horizon: int) -> tuple[float, ...]:
    """`per_day` for each day after `due`; a due day that is past costs only the days still ahead.

    Days of lateness before the plan begins are sunk: no plan can change them, and counting them would make
    every gap look smaller than it is.
    """
    start = max(due, 0)
    return tuple(per_day * max(0, day - start) for day in range(horizon))


def early_by_day(due: int, per_day: float, horizon: int) -> tuple[float, ...]:
    """`per_day` for each day before `due` (the share of the set's life that is thrown away)."""
    return tuple(per_day * max(0, due - day) for day in range(horizon))


def running_total(daily: Sequence[float]) -> tuple[float, ...]:
    """Cost of doing it on day d when day k undone costs daily[k]: sum of daily[0..d-1]."""
    totals = [0.0]
    for amount in daily[:-1]:
        totals.append(totals[-1] + amount)
    return tuple(totals)


def piecewise_linear(points: Sequence[tuple[int, float]], horizon: int) -> tuple[float, ...]:
    """Straight lines through (day number, amount), level outside the first and the last point.

    Raises ValueError when there is no point or the day numbers do not rise.
    """
    if not points:
        raise ValueError("piecewise cost without points; give at least one (day number, amount).")
    if any(b[0] <= a[0] for a, b in itertools.pairwise(points)):
        raise ValueError(f"piecewise cost: day numbers {[p[0] for p in points]} must rise. Sort them.")
    return tuple(_on_line(points, day) for day in range(horizon))


def _on_line(points: Sequence[tuple[int, float]], day: int) -> float:
    if day <= points[0][0]:
        return points[0][1]
    for (left, low), (right, high) in itertools.pairwise(points):
        if day <= right:
            return low + (high - low) * (day - left) / (right - left)
    return points[-1][1]
