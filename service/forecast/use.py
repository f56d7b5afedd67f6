"""From a group's recorded sessions to what its bows are expected to shoot: the one call that the rest makes.

Hire is clumpier than any simple model (a bow is out of favour for a month, then out every day). So the model is first
tried on the group's own last weeks, and the spread of the rate is widened by what the errors there show.
"""

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from service.forecast.ahead import UseAhead, shots_ahead
from service.forecast.pattern import Calendar, UsePattern, learn_pattern
from service.forecast.rates import (
    DEFAULT_DISCOUNT,
    GroupRate,
    RateBelief,
    SessionRows,
    learn_group,
    learn_rates,
)
from service.forecast.shots import HouseShots, SessionShots, learn_shots

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# The errors that tell the clumping: so many windows of so many days, before which as many days must be known.
_CLUMPING_WINDOWS = 3
_CLUMPING_DAYS = 30
# Bounds and starting weight (in forecasts that erred as modelled) of the clumping (assumed).
_MOST_CLUMPING = 20.0
_CLUMPING_WORTH_FORECASTS = 20.0


@dataclass(frozen=True)
class UseHistory:
    """Single hire sessions of one group of n bows over the days of `calendar`.

    One row per session: `bow` and `day` 0-based, `shots` of that session, arrays (rows,). `first_day` (n,): the day on
    which each bow came into the book.
    """

    calendar: Calendar
    bow: IntArray
    day: IntArray
    shots: FloatArray
    first_day: IntArray

    def __post_init__(self) -> None:
        if not self.bow.shape == self.day.shape == self.shots.shape:
            raise ValueError(
                f"history has {self.bow.size} bows, {self.day.size} days and {self.shots.size} shot counts: give one "
                "of each per session."
            )
        if self.bow.size and not 0 <= int(self.bow.min()) <= int(self.bow.max()) < self.bows:
            raise ValueError(
                f"sessions of bows {self.bow.min()}..{self.bow.max()}, but there are {self.bows} bows: rows run from "
                f"0 to {self.bows - 1}."
            )

    @property
    def bows(self) -> int:
        return int(self.first_day.size)

    def until(self, day: int) -> "UseHistory":
        """What was known at the start of `day`."""
        kept = self.day < day
        return UseHistory(self.calendar.until(day), self.bow[kept], self.day[kept], self.shots[kept], self.first_day)

    def shots_between(self, first: int, last: int) -> FloatArray:
        """Shots of each bow on days first .. last - 1, (n,)."""
        kept = (self.day >= first) & (self.day < last)
        return np.bincount(self.bow[kept], self.shots[kept], minlength=self.bows).astype(np.float64)


@dataclass(frozen=True)
class LearnedUse:
    """What a group's history says: day pattern, belief about a new bow, each bow's rate and shots, clumping."""

    pattern: UsePattern
    group: GroupRate
    belief: RateBelief
    shots: SessionShots
    discount: float
    clumping: float

    def ahead(self, calendar: Calendar, booked_shots: FloatArray | None = None) -> UseAhead:
        """Use over the days of `calendar`, with `booked_shots` (n, days) of known bookings of the very bow."""
        exposure = self.pattern.exposure(calendar)
        return UseAhead(self.belief, self.group, self.shots, exposure, booked_shots, self.discount, self.clumping)


@dataclass(frozen=True)
class HouseUse:
    """What the house believes before any history, omega, and a day pattern if it sets one by hand."""

    rate: GroupRate = field(default_factory=GroupRate)
    shots: HouseShots = field(default_factory=HouseShots)
    discount: float = DEFAULT_DISCOUNT
    pattern: UsePattern | None = None


def learn_use(history: UseHistory, house: HouseUse | None = None) -> LearnedUse:
    """Learn everything from `history`, all bows at once."""
    settings = house if house is not None else HouseUse()
    return replace(_learn(history, settings), clumping=_learn_clumping(history, settings))


def _learn(history: UseHistory, house: HouseUse) -> LearnedUse:
    days = history.calendar.days
    rows = _session_rows(history)
    totals = np.bincount(rows.day, rows.sessions, minlength=days).astype(np.float64)
    present = np.searchsorted(np.sort(history.first_day), np.arange(days), side="right").astype(np.float64)
    pattern = house.pattern if house.pattern is not None else learn_pattern(history.calendar, totals, present)
    exposure = pattern.exposure(history.calendar)
    so_far = np.append(np.cumsum(exposure[::-1])[::-1], 0.0)[np.clip(history.first_day, 0, days)]
    sessions = np.bincount(rows.bow, rows.sessions, minlength=history.bows).astype(np.float64)
    group = learn_group(sessions, so_far, house.rate)
    belief = learn_rates(rows, exposure, history.first_day, group, house.discount)
    shots = learn_shots(history.bow, history.shots, history.bows, house.shots)
    return LearnedUse(pattern, group, belief, shots, house.discount, clumping=1.0)


def _learn_clumping(history: UseHistory, house: HouseUse) -> float:
    """How many times the rate's modelled variance the group's past errors ask for; 1 where there is too little past."""
    squares, modelled, from_rate = 0.0, 0.0, 0.0
    for window in range(1, _CLUMPING_WINDOWS + 1):
        cut = history.calendar.days - window * _CLUMPING_DAYS
        if cut < _CLUMPING_DAYS:
            break
        here = history.first_day <= cut - _CLUMPING_DAYS
        use = _learn(history.until(cut), house).ahead(history.calendar.between(cut, cut + _CLUMPING_DAYS))
        once, twice = shots_ahead(use), shots_ahead(replace(use, clumping=2.0))
        actual = history.shots_between(cut, cut + _CLUMPING_DAYS)
        # Each bow's error counts relative to its expected shots, so that a few busy bows do not decide alone.
        weight = np.where(here, 1.0 / np.maximum(once.mean[:, -1], np.mean(once.mean[:, -1])) ** 2, 0.0)
        squares += float(np.sum(weight * (actual - once.mean[:, -1]) ** 2))
        modelled += float(np.sum(weight * once.variance[:, -1]))
        from_rate += float(np.sum(weight * (twice.variance[:, -1] - once.variance[:, -1])))
    if not from_rate > 0.0:
        return 1.0
    found = float(np.clip(1.0 + (squares - modelled) / from_rate, 1.0, _MOST_CLUMPING))
    count = history.bows * _CLUMPING_WINDOWS
    return (count * found + _CLUMPING_WORTH_FORECASTS) / (count + _CLUMPING_WORTH_FORECASTS)


def _session_rows(history: UseHistory) -> SessionRows:
    """Count of sessions per bow and day with any."""
    key, count = np.unique(history.bow * max(history.calendar.days, 1) + history.day, return_counts=True)
    bow, day = np.divmod(key, max(history.calendar.days, 1))
    return SessionRows(bow, day, count.astype(np.float64))
