"""The shop's survival curve without any model: Kaplan & Meier (1958), J. Am. Stat. Assoc. 53:457-481.

Data for a plot. A failure found at a check is placed at the finding, so the curve may sit late by up to one check
step; the fitted curve, which knows the interval, stands beside it.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from service.wear.weibull import LifeData

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class SurvivalCurve:
    """A step curve: arrays (m,), one row per distinct failure age, plus the ages of the censor marks (c,).

    `lower` and `upper` are the pointwise band at `level` from Greenwood's variance on the log-minus-log scale, which
    stays inside 0..1 (Kalbfleisch & Prentice 1980). Before the first row survival is 1.
    """

    age: FloatArray
    survival: FloatArray
    lower: FloatArray
    upper: FloatArray
    at_risk: FloatArray
    failed: FloatArray
    censor_age: FloatArray
    censor_survival: FloatArray
    level: float


def kaplan_meier(data: LifeData, level: float = 0.95) -> SurvivalCurve:
    """Product-limit estimate with delayed entry; a cord counts as at risk from its entry to its end."""
    if not 0.0 < level < 1.0:
        raise ValueError(f"band level is {level}: it must lie between 0 and 1, for example 0.95.")
    found = np.isfinite(data.upper)
    end = np.where(found, data.upper, data.lower)
    age, failed = np.unique(end[found], return_counts=True)
    ends_before = np.searchsorted(np.sort(end), age, side="left")
    # From new counts from the start; a delayed entry counts only after its own age.
    entered = np.searchsorted(np.sort(data.entry), age, side="left")
    at_risk = (entered - ends_before).astype(np.float64)
    survival: FloatArray = np.cumprod(1.0 - failed / at_risk).astype(np.float64)
    lower, upper = _band(survival, at_risk, failed.astype(np.float64), level)
    censor_age = np.sort(end[~found])
    steps = np.concatenate([[1.0], survival])
    censor_survival = steps[np.searchsorted(age, censor_age, side="right")]
    return SurvivalCurve(
        age, survival, lower, upper, at_risk, failed.astype(np.float64), censor_age, censor_survival, level
    )


def _band(survival: FloatArray, at_risk: FloatArray, failed: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    with np.errstate(divide="ignore", invalid="ignore"):
        greenwood = np.cumsum(failed / (at_risk * (at_risk - failed)))
        spread = special.ndtri(0.5 + level / 2.0) * np.sqrt(greenwood) / np.abs(np.log(survival))
        lower = survival ** np.exp(spread)
        upper = survival ** np.exp(-spread)
    # Once the last cord at risk has failed the estimate is 0 and its variance undefined: the band says only 0..1.
    gone = survival <= 0.0
    return np.where(gone, 0.0, lower), np.where(gone, 1.0, upper)
