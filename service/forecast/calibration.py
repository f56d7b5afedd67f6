"""Does the forecast keep its word? What was forecast on held-back history against what then happened.

Probability integral transform and coverage: Dawid (1984), J. R. Stat. Soc. A 147:278-292; randomised where the forecast
has a mass at 0: Czado, Gneiting & Held (2009), Biometrics 65:1254-1261.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from service.forecast.ahead import CumulativeShots, shots_ahead
from service.forecast.use import HouseUse, LearnedSoFar, UseHistory

FloatArray = npt.NDArray[np.float64]

FORECAST_DAYS = 30
BAND = (0.1, 0.9)
HISTOGRAM_BINS = 10
RANDOMISING_SEED = 1998
# Half-width allowed about the band's 80 %: three standard errors of as many independent bows, plus this much for a
# model that is only about right (house setting, common practice, no source).
MODEL_ALLOWANCE = 0.03


@dataclass(frozen=True)
class CalibrationReport:
    """Result over `count` forecasts. Errors are mean absolute errors in shots over the forecast's days."""

    count: int
    coverage: float
    margin: float
    histogram: tuple[float, ...]
    forecast_error: float
    last_days_error: float

    @property
    def keeps_its_word(self) -> bool:
        """Whether the 10..90 % band held 80 % of outcomes within the margin."""
        return abs(self.coverage - (BAND[1] - BAND[0])) <= self.margin

    @property
    def gain(self) -> float:
        """Share by which the forecast's error is below that of repeating the last days' shots; negative if worse."""
        return 1.0 - self.forecast_error / self.last_days_error if self.last_days_error > 0.0 else 0.0

    def account(self) -> str:
        """The report in one paragraph."""
        verdict = "keeps its word" if self.keeps_its_word else "does NOT keep its word: widen or relearn"
        against = "beats" if self.gain > 0.0 else "does not beat"
        return (
            f"Of {self.count} held-back forecasts the 10..90 % band held {100.0 * self.coverage:.0f} % "
            f"(80 % +- {100.0 * self.margin:.0f} % expected): it {verdict}. Mean error over {FORECAST_DAYS} days "
            f"{self.forecast_error:.0f} shots; repeating the last {FORECAST_DAYS} days errs by "
            f"{self.last_days_error:.0f}: the forecast {against} it ({100.0 * self.gain:+.0f} %)."
        )


def transform(cumulative: CumulativeShots, day: int, actual: FloatArray, seed: int = RANDOMISING_SEED) -> FloatArray:
    """Probability integral transform of each bow's `actual` shots (n,) by the end of `day`: uniform if calibrated."""
    rows = np.arange(actual.size)
    at = np.full(actual.size, day)
    none = cumulative.none[:, day]
    up_to = 1.0 - cumulative.at_least(np.maximum(actual, np.finfo(np.float64).tiny), rows, at)
    share = np.random.default_rng(seed).random(actual.size)
    return np.where(actual > 0.0, up_to, share * none)


def report(placed: FloatArray, forecast: FloatArray, last_days: FloatArray, actual: FloatArray) -> CalibrationReport:
    """Assemble a report from transforms `placed`, `forecast` means, `last_days` shots and `actual` shots, each (n,)."""
    count = int(actual.size)
    if count == 0:
        raise ValueError(
            f"no bow has history before and {FORECAST_DAYS} days after the day held back from: record more days first."
        )
    width = BAND[1] - BAND[0]
    return CalibrationReport(
        count=count,
        coverage=float(np.mean((placed >= BAND[0]) & (placed <= BAND[1]))),
        margin=3.0 * float(np.sqrt(width * (1.0 - width) / count)) + MODEL_ALLOWANCE,
        histogram=tuple(np.histogram(placed, bins=HISTOGRAM_BINS, range=(0.0, 1.0))[0].astype(np.float64).tolist()),
        forecast_error=float(np.mean(np.abs(forecast - actual))),
        last_days_error=float(np.mean(np.abs(last_days - actual))),
    )


def hold_back(
    history: UseHistory,
    cuts: list[int],
    minimum_sessions: int = 0,
    house: HouseUse | None = None,
) -> CalibrationReport:
    """Forecast the 30 days after each cut day from what was known before it, and compare.

    A bow counts at a cut if it was in the book 30 days before it and had `minimum_sessions` by then; nothing after the
    cut decides who counts.
    """
    columns: list[list[FloatArray]] = [[], [], [], []]
    so_far = LearnedSoFar(history, house)
    for number, cut in enumerate(cuts):
        if not FORECAST_DAYS <= cut <= history.calendar.days - FORECAST_DAYS:
            raise ValueError(
                f"cut day {cut} leaves less than {FORECAST_DAYS} days before or after it in a history of "
                f"{history.calendar.days} days: choose {FORECAST_DAYS}..{history.calendar.days - FORECAST_DAYS}."
            )
        known = history.day < cut
        use = so_far.by(cut).ahead(history.calendar.between(cut, cut + FORECAST_DAYS))
        cumulative = shots_ahead(use)
        actual = history.shots_between(cut, cut + FORECAST_DAYS)
        counts = np.bincount(history.bow[known], minlength=history.bows) >= minimum_sessions
        counts &= history.first_day <= cut - FORECAST_DAYS
        placed = transform(cumulative, FORECAST_DAYS - 1, actual, RANDOMISING_SEED + number)
        last_days = history.shots_between(cut - FORECAST_DAYS, cut)
        for column, values in zip(columns, (placed, cumulative.mean[:, -1], last_days, actual), strict=True):
            column.append(values[counts])
    return report(*(np.concatenate(column) if column else np.empty(0) for column in columns))
