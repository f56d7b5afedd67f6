"""How often something recurs per bow: the mean cumulative function of resets, checks or findings.

Nelson, W. (1995), Technometrics 37:147-157: at each event the mean number per bow rises by (events at that age) /
(bows then under observation). Variance by the robust form of Lawless & Nadeau (1995), Technometrics 37:158-168, which
needs no Poisson assumption; limits on the log scale keep the lower one above 0.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class MeanCumulativeFunction:
    """Step function, arrays (m,), one row per distinct event age; `lower`/`upper` pointwise at `level`."""

    age: FloatArray
    mean: FloatArray
    lower: FloatArray
    upper: FloatArray
    variance: FloatArray
    at_risk: FloatArray
    level: float

    def at(self, age: float) -> float:
        """Mean number of events per bow up to and including `age`."""
        return float(np.concatenate([[0.0], self.mean])[np.searchsorted(self.age, age, side="right")])


def mean_cumulative_function(
    events: Sequence[Sequence[float]], ends: Sequence[float], level: float = 0.95
) -> MeanCumulativeFunction:
    """Events of each bow and the age at which its observation ended, all in one unit, all counted from 0.

    A bow counts as observed up to and including its end. No event may lie past its bow's end.
    """
    if len(events) != len(ends):
        raise ValueError(f"{len(events)} bows have events but {len(ends)} have an end of observation: give one each.")
    if not 0.0 < level < 1.0:
        raise ValueError(f"confidence level is {level}: it must lie between 0 and 1, for example 0.95.")
    for number, (own, end) in enumerate(zip(events, ends, strict=True)):
        for age in own:
            if not 0.0 <= age <= end:
                raise ValueError(f"bow {number} has an event at {age}, outside 0..{end}, its time under observation.")
    last = np.asarray(ends, dtype=np.float64)
    owner = np.repeat(np.arange(len(events)), [len(own) for own in events])
    when = np.array([age for own in events for age in own], dtype=np.float64)
    ages, column = np.unique(when, return_inverse=True)
    at_risk = last.size - np.searchsorted(np.sort(last), ages, side="left").astype(np.float64)
    total = np.bincount(column, minlength=ages.size) / at_risk
    mean = np.cumsum(total)
    variance = _robust_variance(owner, column, last, ages, total / at_risk, at_risk)
    spread = np.exp(special.ndtri(0.5 + level / 2.0) * np.sqrt(variance) / mean)
    return MeanCumulativeFunction(ages, mean, mean / spread, mean * spread, variance, at_risk, level)


def _robust_variance(
    owner: npt.NDArray[np.intp],
    column: npt.NDArray[np.intp],
    last: FloatArray,
    ages: FloatArray,
    shared: FloatArray,
    at_risk: FloatArray,
) -> FloatArray:
    """Sum over bows of [sum over ages of (own events - mean events) / at risk]^2, cumulated over ages (m,)."""
    variance = np.zeros(ages.size)
    own_step = 1.0 / at_risk
    for bow in range(last.size):
        own = np.bincount(column[owner == bow], minlength=ages.size) * own_step
        deviation = np.cumsum(np.where(ages <= last[bow], own - shared, 0.0))
        variance += deviation**2
    return variance
