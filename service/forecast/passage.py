"""First passage: the day on which life used reaches the replacement point, or a measurement leaves its tolerance.

One definition everywhere: the 10, 50 and 90 % day is the first day by whose end the threshold has been reached with
that probability, under uncertain use and uncertain coefficients. The chance of being condemned before is another
figure.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy import special

from service.forecast.ahead import CumulativeShots, UseAhead, shots_ahead

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

PROBABILITIES = (0.1, 0.5, 0.9)

# Equally likely values of the coefficients' joint factor.
_FACTOR_NODES = 31
# Bows worked on at once, to bound memory at bows x days.
_BLOCK = 1000

_NODES = special.ndtri((np.arange(_FACTOR_NODES) + 0.5) / _FACTOR_NODES)


@dataclass(frozen=True)
class PassageDays:
    """Days from now, arrays (n,): 0 = already reached, inf = not within the days looked ahead."""

    p10: FloatArray
    p50: FloatArray
    p90: FloatArray


@dataclass(frozen=True)
class LifeAhead:
    """Life used now and to come of n cords, one per row; `bow` (n,) is each cord's row in the use forecast.

    `from_shots`, `from_time`: life used so far by shots, and by time with heat (D). `per_shot`: life per shot ahead.
    `time_ahead` (n, days): life by time and heat from now to the end of each day. `shot_log_sd`, `time_log_sd`
    (n,): standard deviation of the log of the factor by which rated shots, and rated life with heat, may be off: it
    multiplies past and ahead alike. `threshold` (n,): the replacement point.
    """

    bow: IntArray
    from_shots: FloatArray
    from_time: FloatArray
    per_shot: FloatArray
    time_ahead: FloatArray
    shot_log_sd: FloatArray
    time_log_sd: FloatArray
    threshold: FloatArray

    def __post_init__(self) -> None:
        for name, value in (("shot", self.shot_log_sd), ("time", self.time_log_sd)):
            for row in np.flatnonzero(~(np.isfinite(value) & (value >= 0.0)))[:1]:
                raise ValueError(f"log spread of the {name} coefficient of row {row} is {value[row]}: at least 0.")
        for row in np.flatnonzero(~(np.isfinite(self.per_shot) & (self.per_shot > 0.0)))[:1]:
            raise ValueError(
                f"cord row {row} uses {self.per_shot[row]} of its life per shot: it must be above 0; set rated shots."
            )

    @property
    def days(self) -> int:
        return int(self.time_ahead.shape[1])

    def some(self, rows: IntArray) -> "LifeAhead":
        """The same for the cords of `rows`."""
        return LifeAhead(
            self.bow[rows],
            self.from_shots[rows],
            self.from_time[rows],
            self.per_shot[rows],
            self.time_ahead[rows],
            self.shot_log_sd[rows],
            self.time_log_sd[rows],
            self.threshold[rows],
        )


def replacement_days(life: LifeAhead, use: UseAhead) -> PassageDays:
    """10, 50 and 90 % days of life used reaching its threshold, for a whole fleet by moments.

    Approximations: the distribution of shots of `ahead`, and one joint log-normal factor for both coefficients at the
    shares expected on that day. Against simulation: within 2 days or 4 % (`tests/forecast/test_passage.py`).
    """
    if life.days != use.days:
        raise ValueError(
            f"life by time is given for {life.days} days ahead and use for {use.days}: give both for the same days."
        )
    order = np.argsort(life.bow, kind="stable")
    found = np.full((len(PROBABILITIES), life.bow.size), np.inf)
    bounds = np.searchsorted(life.bow[order], np.arange(0, use.bows + _BLOCK, _BLOCK))
    for block, (first, last) in enumerate(pairwise(bounds)):
        start = block * _BLOCK
        cumulative = shots_ahead(use.some(slice(start, start + _BLOCK)))
        rows = order[first:last]
        found[:, rows] = _block_days(life.some(rows), life.bow[rows] - start, cumulative)
    return PassageDays(*found)


def reached_by(life: LifeAhead, rows: IntArray, cumulative: CumulativeShots, day: IntArray) -> FloatArray:
    """Probability that each cord has reached its threshold by the end of `day` ahead (n,), 0-based."""
    by_time = life.from_time + life.time_ahead[np.arange(day.size), day]
    unused = _reached_without_use(life, by_time)
    expected = life.from_shots + life.per_shot * cumulative.mean[rows, day]
    log_median, log_sd = _joint_factor(life, expected, by_time)
    factor = np.exp(log_median[:, None] + log_sd[:, None] * _NODES)
    used_up = (life.from_shots + by_time)[:, None]
    needed = (life.threshold[:, None] / factor - used_up) / life.per_shot[:, None]
    used = np.mean(cumulative.at_least_given_any(needed, rows, day), axis=1)
    none = cumulative.none[rows, day]
    return none * unused + (1.0 - none) * used


def reached_now(life: LifeAhead) -> FloatArray:
    """Probability that each cord is past its threshold already, (n,): only the coefficients are uncertain."""
    return _reached_without_use(life, life.from_time)


def _reached_without_use(life: LifeAhead, by_time: FloatArray) -> FloatArray:
    """Chance that the shots so far and the time up to then suffice: the log-normal tail in closed form."""
    used = life.from_shots + by_time
    log_median, log_sd = _joint_factor(life, life.from_shots, by_time)
    open_question = (used > 0.0) & (log_sd > 0.0)
    ratio = np.where(open_question, used, 1.0) / np.where(open_question, life.threshold, 1.0)
    chance = special.ndtr((np.log(ratio) + log_median) / np.where(open_question, log_sd, 1.0))
    return np.where(open_question, chance, (used >= life.threshold).astype(np.float64))


def _joint_factor(life: LifeAhead, by_shots: FloatArray, by_time: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Log of the median and log spread of the factor on life used as a whole, (n,) each.

    The share-weighted sum of the two log-normal factors, matched in mean and variance by one log-normal (Fenton 1960,
    IRE Trans. Commun. Syst. 8:57-67); exact where one share is all.
    """
    total = np.maximum(by_shots + by_time, np.finfo(np.float64).tiny)
    mean, variance = np.zeros_like(total), np.zeros_like(total)
    for part, log_sd in ((by_shots, life.shot_log_sd), (by_time, life.time_log_sd)):
        share = part / total
        mean += share * np.exp(log_sd**2 / 2.0)
        variance += share**2 * np.exp(log_sd**2) * np.expm1(log_sd**2)
    mean = np.where(mean > 0.0, mean, 1.0)
    matched = np.log1p(variance / mean**2)
    return np.log(mean) - matched / 2.0, np.sqrt(matched)


def _block_days(life: LifeAhead, rows: IntArray, cumulative: CumulativeShots) -> FloatArray:
    """Bisection on the day: the chance of having reached the threshold does not fall with time."""
    days = np.empty((len(PROBABILITIES), rows.size))
    last = np.full(rows.size, life.days - 1)
    now, in_the_end = reached_now(life), reached_by(life, rows, cumulative, last)
    for index, probability in enumerate(PROBABILITIES):
        low, high = np.full(rows.size, -1), last.copy()
        while np.any(high - low > 1):
            middle = (low + high) // 2
            reached = reached_by(life, rows, cumulative, middle) >= probability
            low, high = np.where(reached, low, middle), np.where(reached, middle, high)
        found = np.where(in_the_end >= probability, high + 1.0, np.inf)
        days[index] = np.where(now >= probability, 0.0, found)
    return days


def tolerance_days(
    fixed: FloatArray, creeping: FloatArray, creep_log_sd: FloatArray, tolerance: FloatArray
) -> PassageDays:
    """10, 50 and 90 % days of a deviation leaving its tolerance.

    Deviation = `fixed` + factor x `creeping`, both (n, days + 1) in the tolerance's unit, not falling, column 0 now and
    column t the end of day t; factor log-normal with median 1 and log spread `creep_log_sd` (n,) above 0: the cord's
    own creep rate as far as it is known. `tolerance` (n,) above 0. Use ahead enters at its mean, in `fixed`: only
    settle-in depends on shots.
    """
    for name, values in (("tolerance", tolerance), ("log spread of the creep rate", creep_log_sd)):
        for row in np.flatnonzero(~(np.isfinite(values) & (values > 0.0)))[:1]:
            raise ValueError(f"{name} of row {row} is {values[row]}: it must be above 0; correct the reference set.")
    days = np.full((len(PROBABILITIES), tolerance.size), np.inf)
    left = tolerance[:, None] - fixed
    grows = creeping > 0.0
    needed = np.where(grows & (left > 0.0), left, 1.0) / np.where(grows, creeping, 1.0)
    chance = np.where(grows, special.ndtr(-np.log(needed) / creep_log_sd[:, None]), 0.0)
    chance = np.where(left <= 0.0, 1.0, chance)
    for index, probability in enumerate(PROBABILITIES):
        reached = chance >= probability
        days[index] = np.where(np.any(reached, axis=1), np.argmax(reached, axis=1), np.inf)
    return PassageDays(*days)


def drift_passage_cdf(time: npt.ArrayLike, drift: float, sigma: float, threshold: float) -> FloatArray:
    """Chance that drift x t + sigma x Brownian motion has reached `threshold` > 0 by `time` > 0: inverse Gaussian.

    Mean threshold / drift, shape (threshold / sigma)^2: Chhikara & Folks (1989), The Inverse Gaussian Distribution.
    """
    for name, value in (("drift", drift), ("sigma", sigma), ("threshold", threshold)):
        if not (np.isfinite(value) and value > 0.0):
            raise ValueError(f"{name} is {value}: first passage in closed form needs it above 0.")
    t = np.asarray(time, dtype=np.float64)
    spread = sigma * np.sqrt(t)
    direct = special.ndtr((drift * t - threshold) / spread)
    # In logarithms, for the exponential alone overflows where the normal tail underflows.
    mirrored = np.exp(2.0 * drift * threshold / sigma**2 + special.log_ndtr(-(drift * t + threshold) / spread))
    return direct + mirrored
