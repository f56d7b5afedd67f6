"""So much money a day late or early: the plain costs of invented needs. One amount per day of the horizon.

`due` is a day number (0 = the plan's first day) and may lie before or after the horizon.
"""


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
