"""Weibull life: its functions, its likelihood and its maximum-likelihood fit.

Life may be in any one unit; here it is life used D (dimensionless, see the wear model), where
R(x) = exp[-(x / eta)^beta]: Weibull, W. (1951), J. Appl. Mech. 18:293-297. Sampling plans covered: failures seen
exactly, failures found between two checks (interval-censored), cords still good (right-censored) and cords already used
when the record began (left-truncated): Meeker & Escobar (1998), Statistical Methods for Reliability Data,
chapters 8 and 11.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy
from scipy import special

FloatArray = npt.NDArray[np.float64]

# The B10 life is the age by which 10 % have failed: cumulative hazard -ln 0.9.
B10_CUMULATIVE_HAZARD = float(-np.log(0.9))

# A shape outside this range means that the data do not fix it (all failures at one age, or one failure only).
_SHAPE_RANGE = (0.02, 100.0)
# A parameter's standard error relative to the parameter, above which the likelihood is called flat.
_FLAT_RELATIVE_ERROR = 1e3
_PROFILE_REACH = 60.0


class NoFit(ValueError):
    """The data do not fix both parameters; the text says what is missing."""


@dataclass(frozen=True)
class WeibullLife:
    """Scale `eta` (in the unit of the data) and shape `beta` (dimensionless)."""

    eta: float
    beta: float

    def __post_init__(self) -> None:
        for name, value in (("scale eta", self.eta), ("shape beta", self.beta)):
            if not (np.isfinite(value) and value > 0.0):
                raise ValueError(f"Weibull {name} is {value}: it must be above 0 and finite; correct the setting.")

    @classmethod
    def from_b10(cls, b10: float, beta: float) -> "WeibullLife":
        """The life whose B10 is `b10` (same unit as eta)."""
        if not (np.isfinite(b10) and b10 > 0.0):
            raise ValueError(f"B10 life is {b10}: it must be above 0 and finite; correct the rated life.")
        return cls(eta=b10 * B10_CUMULATIVE_HAZARD ** (-1.0 / beta), beta=beta)

    @property
    def b10(self) -> float:
        return float(self.eta * B10_CUMULATIVE_HAZARD ** (1.0 / self.beta))

    def cumulative_hazard(self, age: npt.ArrayLike) -> FloatArray:
        """(age / eta)^beta, dimensionless; `age` >= 0, any shape."""
        return np.power(np.asarray(age, dtype=np.float64) / self.eta, self.beta)

    def survival(self, age: npt.ArrayLike) -> FloatArray:
        """Probability of being still good at `age`."""
        return np.exp(-self.cumulative_hazard(age))

    def hazard(self, age: npt.ArrayLike) -> FloatArray:
        """Failures per unit of life at `age` among those still good."""
        return self.beta / self.eta * np.power(np.asarray(age, dtype=np.float64) / self.eta, self.beta - 1.0)


@dataclass(frozen=True)
class LifeData:
    """Rows of life data, each array of shape (n,), all in one unit.

    A row failed in (lower, upper]: `upper` = `lower` is a failure seen exactly, `upper` = inf is still good at
    `lower`. `entry` > 0: the row came under observation at that age, and would not be here had it failed before.
    """

    lower: FloatArray
    upper: FloatArray
    entry: FloatArray

    def __post_init__(self) -> None:
        if not self.lower.shape == self.upper.shape == self.entry.shape or self.lower.ndim != 1:
            raise ValueError(
                f"life data need three flat arrays of one length, got shapes {self.lower.shape}, "
                f"{self.upper.shape}, {self.entry.shape}; give one lower, upper and entry age per cord."
            )
        finite = np.isfinite(self.lower) & np.isfinite(self.entry) & ~np.isnan(self.upper)
        ordered = (self.lower >= 0.0) & (self.upper >= self.lower) & (self.entry >= 0.0) & (self.entry <= self.lower)
        for row in np.flatnonzero(~(finite & ordered & (self.upper > 0.0)))[:1]:
            raise ValueError(
                f"life data row {row}: entry {self.entry[row]}, lower {self.lower[row]}, upper {self.upper[row]}; "
                "needed are 0 <= entry <= lower <= upper with lower finite and upper above 0; correct that cord's "
                "record."
            )

    @classmethod
    def observed(cls, failed: Sequence[float] | FloatArray, still_good: Sequence[float] | FloatArray) -> "LifeData":
        """Failures seen exactly at `failed` and right-censored ages `still_good`, all observed from new."""
        lower = np.concatenate([np.asarray(failed, dtype=np.float64), np.asarray(still_good, dtype=np.float64)])
        upper = lower.copy()
        upper[len(failed) :] = np.inf
        return cls(lower=lower, upper=upper, entry=np.zeros_like(lower))

    @property
    def failures(self) -> int:
        return int(np.count_nonzero(np.isfinite(self.upper)))

    @property
    def size(self) -> int:
        return int(self.lower.size)


@dataclass(frozen=True)
class Interval:
    """A two-sided interval at confidence (or credibility) `level`."""

    lower: float
    upper: float
    level: float


@dataclass(frozen=True)
class WeibullFit:
    """The maximum-likelihood fit; `covariance` is 2 x 2 for (eta, beta), from the observed information."""

    life: WeibullLife
    log_likelihood: float
    covariance: FloatArray
    data: LifeData

    def wald_eta(self, level: float = 0.95) -> Interval:
        """eta -+ z standard errors (normal approximation on eta's own scale)."""
        return _wald(self.life.eta, float(self.covariance[0, 0]), level)

    def wald_beta(self, level: float = 0.95) -> Interval:
        """beta -+ z standard errors (normal approximation on beta's own scale)."""
        return _wald(self.life.beta, float(self.covariance[1, 1]), level)

    def log_wald_b10(self, level: float = 0.95) -> Interval:
        """B10 times or over a factor: normal approximation of its logarithm, by the delta method from (eta, beta).

        log B10 = log eta + log(-ln 0.9) / beta: Meeker & Escobar (1998), 8.4.
        """
        by_eta, by_beta = 1.0 / self.life.eta, -np.log(B10_CUMULATIVE_HAZARD) / self.life.beta**2
        gradient = np.array([by_eta, by_beta])
        log_b10 = _wald(float(np.log(self.life.b10)), float(gradient @ self.covariance @ gradient), level)
        return Interval(float(np.exp(log_b10.lower)), float(np.exp(log_b10.upper)), level)

    def profile_eta(self, level: float = 0.95) -> Interval:
        """Likelihood-ratio interval: all eta whose profile likelihood is within chi2(1)/2 of the maximum."""
        return self._profile(0, level)

    def profile_beta(self, level: float = 0.95) -> Interval:
        """Likelihood-ratio interval for beta."""
        return self._profile(1, level)

    def _profile(self, index: int, level: float) -> Interval:
        centre = np.log([self.life.eta, self.life.beta])
        drop = special.chdtri(1, 1.0 - _checked_level(level)) / 2.0

        def shortfall(log_value: float) -> float:
            return self.log_likelihood - _profile_log_likelihood(self.data, centre, index, log_value) - drop

        step = float(np.sqrt(self.covariance[index, index])) / float(np.exp(centre[index]))
        ends = []
        for sign in (-1.0, 1.0):
            reach = step
            while shortfall(centre[index] + sign * reach) < 0.0 and reach < _PROFILE_REACH:
                reach *= 1.6
            # A likelihood that never falls far enough bounds nothing on that side.
            if shortfall(centre[index] + sign * reach) < 0.0:
                ends.append(0.0 if sign < 0.0 else float("inf"))
            else:
                root = scipy.optimize.brentq(shortfall, centre[index], centre[index] + sign * reach, xtol=1e-9)
                ends.append(float(np.exp(root)))
        return Interval(ends[0], ends[1], level)


def log_likelihood(data: LifeData, life: WeibullLife) -> float:
    """Sum over rows of log f (seen), log R (still good) or log[R(lower) - R(upper)], each given R(entry)."""
    return -_negative_log_likelihood(np.log([life.eta, life.beta]), data)[0]


def fit(data: LifeData) -> WeibullFit:
    """Maximise the likelihood over (eta, beta).

    Raises NoFit when there are fewer than two failures or the maximum runs off to an edge.
    """
    if data.failures < 2:
        raise NoFit(
            f"a fit of two parameters needs at least 2 failures, there are {data.failures} among {data.size} cords; "
            "the prior stands until more have been condemned."
        )
    scale = float(np.mean(np.where(np.isfinite(data.upper), data.upper, data.lower)))
    scaled = LifeData(data.lower / scale, data.upper / scale, data.entry / scale)
    best = None
    for start_shape in (1.0, 3.0, 8.0):
        start = np.array([np.log(_eta_given_shape(scaled, start_shape)), np.log(start_shape)])
        found = scipy.optimize.minimize(
            _negative_log_likelihood, start, args=(scaled,), jac=True, method="BFGS", options={"gtol": 1e-9}
        )
        if np.all(np.isfinite(found.x)) and (best is None or found.fun < best.fun):
            best = found
    if best is None:
        raise NoFit(f"the likelihood of {data.size} cords has no finite maximum; check the recorded ages.")
    covariance = _covariance(best.x, scaled)
    life = WeibullLife(eta=float(np.exp(best.x[0])) * scale, beta=float(np.exp(best.x[1])))
    to_unit = np.diag([scale, 1.0])
    return WeibullFit(life, log_likelihood(data, life), to_unit @ covariance @ to_unit, data)


def _eta_given_shape(data: LifeData, shape: float) -> float:
    """Closed-form eta for a fixed shape with found failures placed at the finding: a start for the search."""
    end = np.where(np.isfinite(data.upper), data.upper, data.lower)
    exposure = float(np.sum(end**shape - data.entry**shape))
    return float((exposure / data.failures) ** (1.0 / shape))


def _negative_log_likelihood(log_parameters: FloatArray, data: LifeData) -> tuple[float, FloatArray]:
    """Minus the log-likelihood and its gradient with respect to (log eta, log beta)."""
    log_eta, beta = float(log_parameters[0]), float(np.exp(np.clip(log_parameters[1], -20.0, 20.0)))

    def hazard_and_slope(age: FloatArray) -> tuple[FloatArray, FloatArray]:
        # Cumulative hazard and its derivative by log beta; both vanish at age 0.
        z = np.log(np.where(age > 0.0, age, 1.0)) - log_eta
        value = np.where(age > 0.0, np.exp(np.clip(beta * z, -700.0, 700.0)), 0.0)
        return value, beta * z * value

    seen, good = data.upper == data.lower, np.isinf(data.upper)
    found = ~(seen | good)
    entry, entry_slope = hazard_and_slope(data.entry)
    lower, lower_slope = hazard_and_slope(data.lower)
    total = float(np.sum(entry - lower))
    by_eta, by_beta = beta * float(np.sum(lower - entry)), float(np.sum(entry_slope - lower_slope))

    log_age = np.log(data.lower[seen]) - log_eta
    total += float(np.sum(np.log(beta) + (beta - 1.0) * log_age)) - log_eta * log_age.size
    by_eta -= beta * log_age.size
    by_beta += float(np.sum(1.0 + beta * log_age))

    upper, upper_slope = hazard_and_slope(data.upper[found])
    width = upper - lower[found]
    width_slope = upper_slope - lower_slope[found]
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        total += float(np.sum(np.log(-np.expm1(-width))))
        weight = np.where(width > 0.0, 1.0 / np.expm1(width), 0.0)
    by_eta -= beta * float(np.sum(weight * width))
    by_beta += float(np.sum(weight * width_slope))
    return -total, -np.array([by_eta, by_beta])


def _covariance(log_parameters: FloatArray, scaled: LifeData) -> FloatArray:
    """Inverse observed information for (eta, beta): central differences of the analytic gradient."""
    shape = float(np.exp(log_parameters[1]))
    step = 1e-5
    information = np.empty((2, 2))
    for column in range(2):
        offset = np.zeros(2)
        offset[column] = step
        ahead = _negative_log_likelihood(log_parameters + offset, scaled)[1]
        behind = _negative_log_likelihood(log_parameters - offset, scaled)[1]
        information[:, column] = (ahead - behind) / (2.0 * step)
    information = (information + information.T) / 2.0
    eigenvalues = np.linalg.eigvalsh(information)
    fixed = _SHAPE_RANGE[0] < shape < _SHAPE_RANGE[1] and eigenvalues[0] > _FLAT_RELATIVE_ERROR**-2
    if not fixed:
        raise NoFit(
            f"the {scaled.failures} failures do not fix the shape (it runs to {shape:.3g}, outside "
            f"{_SHAPE_RANGE[0]:g}..{_SHAPE_RANGE[1]:g}, or the likelihood is flat); failures at different ages are "
            "needed: the prior stands until then."
        )
    to_parameters = np.diag(np.exp(log_parameters))
    return to_parameters @ np.linalg.inv(information) @ to_parameters


def _profile_log_likelihood(data: LifeData, centre: FloatArray, index: int, log_value: float) -> float:
    """The likelihood at a fixed log parameter `index`, maximised over the other one."""

    def loss(other: float) -> float:
        parameters = np.array([log_value, other]) if index == 0 else np.array([other, log_value])
        return _negative_log_likelihood(parameters, data)[0]

    start = float(centre[1 - index])
    found = scipy.optimize.minimize_scalar(loss, bracket=(start - 0.1, start + 0.1), options={"xtol": 1e-7})
    return -float(found.fun)


def _wald(value: float, variance: float, level: float) -> Interval:
    half = float(special.ndtri(0.5 + _checked_level(level) / 2.0)) * float(np.sqrt(variance))
    return Interval(value - half, value + half, level)


def _checked_level(level: float) -> float:
    if not 0.0 < level < 1.0:
        raise ValueError(f"confidence level is {level}: it must lie between 0 and 1, for example 0.95.")
    return level
