"""One replacement date from a mean rate of use: the day on which life used reaches the replacement point.

A straight line, without bounds: the forecast gives the 10/50/90 % dates. Kept because it can be checked by hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from service.said import Said, figure, mark, say
from service.wear.arrays import HOURS_PER_DAY, SECONDS_PER_HOUR, Floats
from service.wear.life import LifeShares, LifeUsed, printed_shares

SECONDS_PER_DAY = HOURS_PER_DAY * SECONDS_PER_HOUR
LONGEST_LOOK_AHEAD_DAYS = 20 * 365.25  # beyond any cord's rated months: a later date says nothing


class DueLabel(StrEnum):
    """How a replacement date was found."""

    MEAN_RATE = mark("at the mean rate of use")
    TIME_ALONE = mark("no use recorded: time and heat alone")
    PAST = mark("replacement point already reached")
    NEVER = mark("not within 20 years at this rate")


@dataclass(frozen=True)
class ReplacementDate:
    """When one cord reaches its replacement point. `due_s` is None where the label says why not."""

    due_s: float | None
    label: DueLabel
    reason: Said


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
    at = say(
        "life used %(used)s of the replacement point %(point)s",
        used=figure(sum(printed_shares(life)), ".2f"),
        point=figure(replacement_point, ".2f"),
    )
    if life.total >= replacement_point:
        return ReplacementDate(now_s, DueLabel.PAST, say("%(at)s: replace now", at=at))
    pace = _pace(shots_per_day, rate_per_day)
    if not np.isfinite(days):
        return ReplacementDate(None, DueLabel.NEVER, say("%(at)s; %(pace)s: no date within 20 years", at=at, pace=pace))
    label = DueLabel.MEAN_RATE if rate_per_day.shots > 0.0 else DueLabel.TIME_ALONE
    left = say("%(at)s; %(pace)s: %(days)s days left", at=at, pace=pace, days=figure(days, ".0f"))
    if label is DueLabel.TIME_ALONE:
        left = say("no use recorded, so time and heat alone decide; %(left)s", left=left)
    return ReplacementDate(now_s + days * SECONDS_PER_DAY, label, left)


def _pace(shots_per_day: float, rate: LifeUsed) -> Said:
    """How fast life is used, share by share; what the cold spares is told as that."""
    parts = {
        "shots": figure(shots_per_day, ".1f"),
        "total": figure(rate.total, ".5f"),
        "by_shots": figure(rate.shots, ".5f"),
        "by_time": figure(rate.time, ".5f"),
    }
    if round(rate.heat, 5) < 0.0:
        return say(
            "%(shots)s shots a day; life used grows by %(total)s a day (shots %(by_shots)s, time %(by_time)s, less "
            "%(spared)s as it is kept colder than the reference temperature)",
            spared=figure(-rate.heat, ".5f"),
            **parts,
        )
    return say(
        "%(shots)s shots a day; life used grows by %(total)s a day (shots %(by_shots)s, time %(by_time)s, heat "
        "%(by_heat)s)",
        by_heat=figure(abs(rate.heat), ".5f"),
        **parts,
    )
