"""Exposure to hire: what makes one day busier than another before any bow is looked at.

Exposure of a day = weekday factor x season factor x open day (0 when closed). Factors average 1, so a bow's rate reads
"sessions per ordinary open day".
"""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

DAYS_PER_WEEK = 7
MONTHS_PER_YEAR = 12
# A season can be told from a trend only once a whole year has been seen.
DAYS_TO_LEARN_SEASON = 365
# Each factor starts at 1 with the weight of this many sessions (assumed).
FACTOR_WORTH_SESSIONS = 10.0

_ALTERNATIONS = 5


@dataclass(frozen=True)
class Calendar:
    """Consecutive local days: `weekday` 0 Monday .. 6, `month` 0 January .. 11, `open_share` 0..1, arrays (days,)."""

    weekday: IntArray
    month: IntArray
    open_share: FloatArray

    def __post_init__(self) -> None:
        if not self.weekday.shape == self.month.shape == self.open_share.shape:
            raise ValueError(
                f"calendar arrays have shapes {self.weekday.shape}, {self.month.shape}, {self.open_share.shape}: "
                "give one weekday, month and open share per day."
            )
        if np.any(~((self.open_share >= 0.0) & (self.open_share <= 1.0))):
            raise ValueError("open share of a day must lie between 0 (closed) and 1 (open all day); correct the days.")

    @property
    def days(self) -> int:
        return int(self.weekday.size)

    def until(self, day: int) -> "Calendar":
        """The first `day` days."""
        return Calendar(self.weekday[:day], self.month[:day], self.open_share[:day])

    def between(self, first: int, last: int) -> "Calendar":
        """Days first .. last - 1."""
        return Calendar(self.weekday[first:last], self.month[first:last], self.open_share[first:last])


def calendar_from(first: date, days: int, open_weekdays: frozenset[int], closed: frozenset[date]) -> Calendar:
    """Calendar of `days` days from `first`: open on `open_weekdays` (0 Monday) except on the `closed` dates."""
    dates = [first + timedelta(days=n) for n in range(days)]
    is_open = [float(d.weekday() in open_weekdays and d not in closed) for d in dates]
    return Calendar(
        np.array([d.weekday() for d in dates], dtype=np.int64),
        np.array([d.month - 1 for d in dates], dtype=np.int64),
        np.array(is_open, dtype=np.float64),
    )


@dataclass(frozen=True)
class UsePattern:
    """Factors by `weekday` (7,) and `season` (12 months), and whether the season was learned or left at 1."""

    weekday: FloatArray
    season: FloatArray
    season_learned: bool

    def __post_init__(self) -> None:
        for name, factors, count in (
            ("weekday", self.weekday, DAYS_PER_WEEK),
            ("season", self.season, MONTHS_PER_YEAR),
        ):
            if factors.shape != (count,) or np.any(~(np.isfinite(factors) & (factors >= 0.0))):
                raise ValueError(f"{name} factors {factors.tolist()}: give {count} numbers of 0 or more.")

    def exposure(self, calendar: Calendar) -> FloatArray:
        """Exposure of each day of `calendar`, (days,)."""
        return self.weekday[calendar.weekday] * self.season[calendar.month] * calendar.open_share

    def busier(self, season_factor: float) -> "UsePattern":
        """The same pattern with every season factor multiplied: the "30 % busier" of a what-if."""
        return UsePattern(self.weekday, self.season * season_factor, self.season_learned)


def even_pattern() -> UsePattern:
    """Every open day alike."""
    return UsePattern(np.ones(DAYS_PER_WEEK), np.ones(MONTHS_PER_YEAR), season_learned=False)


def learn_pattern(calendar: Calendar, sessions: FloatArray, bows_present: FloatArray) -> UsePattern:
    """Factors from a group's history: total `sessions` and number of `bows_present` on each day, arrays (days,).

    Multiplicative fit by alternating weekday and month (iterative proportional fitting, Deming & Stephan 1940, Ann.
    Math. Stat. 11:427-444), each factor drawn toward 1 by a stated number of sessions.
    """
    with_season = calendar.days >= DAYS_TO_LEARN_SEASON
    offered = bows_present * calendar.open_share
    # Shots on a day on which the house was closed tell nothing of how busy such a weekday is when it opens.
    sessions = np.where(offered > 0.0, sessions, 0.0)
    weekday, season = np.ones(DAYS_PER_WEEK), np.ones(MONTHS_PER_YEAR)
    if not np.sum(sessions) > 0.0 or not np.sum(offered) > 0.0:
        return even_pattern()
    for _ in range(_ALTERNATIONS):
        weekday = _factors(calendar.weekday, sessions, offered * season[calendar.month], DAYS_PER_WEEK)
        if with_season:
            season = _factors(calendar.month, sessions, offered * weekday[calendar.weekday], MONTHS_PER_YEAR)
    return UsePattern(weekday, season, with_season)


def _factors(label: IntArray, sessions: FloatArray, offered: FloatArray, count: int) -> FloatArray:
    expected = np.bincount(label, offered, minlength=count) * (np.sum(sessions) / np.sum(offered))
    seen = np.bincount(label, sessions, minlength=count)
    factors = (seen + FACTOR_WORTH_SESSIONS) / (expected + FACTOR_WORTH_SESSIONS)
    # Weighted by what was on offer they average 1, so that rates keep their meaning.
    return factors / (np.sum(factors * expected) / np.sum(expected))
