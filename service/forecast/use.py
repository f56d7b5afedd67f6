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
_NONE: FloatArray = np.zeros(3)


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
    return LearnedSoFar(history, house).by(history.calendar.days)


class LearnedSoFar:
    """What a history had taught by the start of each of its days; each day's part is learned once, however often a
    later day asks for it (the clumping of one day rests on forecasts of others)."""

    def __init__(self, history: UseHistory, house: HouseUse | None = None) -> None:
        self.history, self.house = history, house if house is not None else HouseUse()
        self._plain: dict[int, LearnedUse] = {}
        self._errors: dict[int, FloatArray] = {}

    def by(self, day: int) -> LearnedUse:
        """Everything that the days before `day` teach."""
        return replace(self._learned(day), clumping=self._clumping(day))

    def _learned(self, day: int) -> LearnedUse:
        if day not in self._plain:
            self._plain[day] = _learn(self.history.until(day), self.house)
        return self._plain[day]

    def _clumping(self, day: int) -> float:
        """How many times the rate's modelled variance the past errors ask for; 1 where there is too little past."""
        cuts = [day - window * _CLUMPING_DAYS for window in range(1, _CLUMPING_WINDOWS + 1)]
        squares, modelled, from_rate = sum((self._errors_after(one) for one in cuts if one >= _CLUMPING_DAYS), _NONE)
        if not from_rate > 0.0:
            return 1.0
        found = float(np.clip(1.0 + (squares - modelled) / from_rate, 1.0, _MOST_CLUMPING))
        count = self.history.bows * _CLUMPING_WINDOWS
        return (count * found + _CLUMPING_WORTH_FORECASTS) / (count + _CLUMPING_WORTH_FORECASTS)

    def _errors_after(self, cut: int) -> FloatArray:
        """Of the forecasts made on day `cut`: squared errors, their modelled variance, what of it a rate adds, (3,)."""
        if cut not in self._errors:
            history, end = self.history, cut + _CLUMPING_DAYS
            here = history.first_day <= cut - _CLUMPING_DAYS
            use = self._learned(cut).ahead(history.calendar.between(cut, end))
            once, twice = shots_ahead(use), shots_ahead(replace(use, clumping=2.0))
            actual, mean = history.shots_between(cut, end), once.mean[:, -1]
            # Each bow's error counts relative to its expected shots, so that a few busy bows do not decide alone.
            weight = np.where(here, 1.0 / np.maximum(mean, np.mean(mean)) ** 2, 0.0)
            kinds = ((actual - mean) ** 2, once.variance[:, -1], twice.variance[:, -1] - once.variance[:, -1])
            self._errors[cut] = np.array([float(np.sum(weight * kind)) for kind in kinds])
        return self._errors[cut]


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


def _session_rows(history: UseHistory) -> SessionRows:
    """Count of sessions per bow and day with any."""
    days = max(history.calendar.days, 1)
    key = history.bow * days + history.day
    if np.any(key[1:] < key[:-1]):
        key = np.sort(key)
    # Rows of one bow and day lie together: where each run begins is all that there is to find.
    first = np.flatnonzero(np.append(True, key[1:] != key[:-1])[: key.size])
    bow, day = np.divmod(key[first], days)
    return SessionRows(bow, day, np.diff(np.append(first, key.size)).astype(np.float64))
