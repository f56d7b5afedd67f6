"""One replacement date from a mean rate of use: the day on which life used reaches the replacement point.

A straight line, without bounds: the forecast gives the 10/50/90 % dates. Kept because it can be checked by hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from service.wear.arrays import HOURS_PER_DAY, SECONDS_PER_HOUR, Floats
from service.wear.life import LifeShares, LifeUsed, printed_shares

SECONDS_PER_DAY = HOURS_PER_DAY * SECONDS_PER_HOUR
LONGEST_LOOK_AHEAD_DAYS = 20 * 365.25  # beyond any cord's rated months: a later date says nothing


class DueLabel(StrEnum):
    """How a replacement date was found."""

    MEAN_RATE = "at the mean rate of use"
    TIME_ALONE = "no use recorded: time and heat alone"
    PAST = "replacement point already reached"
    NEVER = "not within 20 years at this rate"


@dataclass(frozen=True)
class ReplacementDate:
    """When one cord reaches its replacement point. `due_s` is None where the label says why not."""

    due_s: float | None
    label: DueLabel
    reason: str


@dataclass(frozen=True, eq=False)
class DueRows:
    """Days until the replacement point, one row per cord: 0 past it, inf beyond the longest look-ahead."""

    days: Floats
    rate_per_day: LifeShares


def mean_rate(recent: LifeShares, days: float) -> LifeShares:
    """Life used per day over a window of `days`, from the life used in that window (`Exposure.life` of it)."""
    if not days > 0.0:
        raise ValueError(f"{days:g} days: the window for a mean rate must be longer than 0 days; widen it")
    return LifeShares(recent.shots / days, recent.time / days, recent.heat / days)


def observed_days(fitted_s: Floats, now_s: float, since_s: float) -> Floats:
    """Days of the window (since, now] that each cord was on its bow: what its mean rate is taken over; may be 0."""
    return np.maximum(now_s - np.maximum(fitted_s, since_s), 0.0) / SECONDS_PER_DAY


def days_until(life_used: Floats, rate_per_day: LifeShares, replacement_point: Floats | float) -> DueRows:
    """Days until each cord's life used reaches its replacement point at a constant rate."""
    left = np.asarray(replacement_point, dtype=np.float64) - life_used
    rate = rate_per_day.total
    days = np.divide(left, rate, out=np.full(life_used.shape, np.inf), where=rate > 0.0)
    days = np.where(left <= 0.0, 0.0, days)
    return DueRows(np.where(days > LONGEST_LOOK_AHEAD_DAYS, np.inf, days), rate_per_day)


def replacement_date(
    life: LifeUsed, rate_per_day: LifeUsed, shots_per_day: float, replacement_point: float, now_s: float
) -> ReplacementDate:
    """One cord's date with its reason in numbers. `shots_per_day` is shown; the rate decides."""
    rows = days_until(
        np.array([life.total]),
        LifeShares(*(np.array([share]) for share in (rate_per_day.shots, rate_per_day.time, rate_per_day.heat))),
        replacement_point,
    )
    days = float(rows.days[0])
    at = f"life used {sum(printed_shares(life)):.2f} of the replacement point {replacement_point:.2f}"
    if life.total >= replacement_point:
        return ReplacementDate(now_s, DueLabel.PAST, f"{at}: replace now")
    pace = (
        f"{shots_per_day:.1f} shots a day; life used grows by {rate_per_day.total:.5f} a day (shots "
        f"{rate_per_day.shots:.5f}, time {rate_per_day.time:.5f}, heat {rate_per_day.heat:.5f})"
    )
    if not np.isfinite(days):
        return ReplacementDate(None, DueLabel.NEVER, f"{at}; {pace}: no date within 20 years")
    label = DueLabel.MEAN_RATE if rate_per_day.shots > 0.0 else DueLabel.TIME_ALONE
    note = "" if label is DueLabel.MEAN_RATE else "no use recorded, so time and heat alone decide; "
    return ReplacementDate(now_s + days * SECONDS_PER_DAY, label, f"{note}{at}; {pace}: {days:.0f} days left")
