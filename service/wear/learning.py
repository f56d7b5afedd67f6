"""What the shop's own history says about the life of one cord spec: a Bayesian grid posterior of Weibull life.

Written as R(D) = exp[-rate (D / b10)^beta] with `rate` the cumulative hazard at the prior's B10. For a fixed beta and
failures seen exactly, rate ~ Gamma(a, b) becomes Gamma(a + failures, b + sum (D / b10)^beta): NIST/SEMATECH e-Handbook
8.4.6 for beta = 1. Interval-censored findings break that closed form, so the posterior is held on a grid that follows
it. The prior's gamma shape is therefore exactly "worth that many condemned cords".
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt
from scipy import special

from service.said import Said, figure, joined, say
from service.wear.grid import support, weighted_quantiles
from service.wear.weibull import B10_CUMULATIVE_HAZARD, Interval, LifeData, WeibullLife

FloatArray = npt.NDArray[np.float64]

# Below this many condemned cords the page says that the prior still leads (the default prior is worth as many).
FAILURES_TO_LEAD = 3

_SHAPE_NODES = 81
_RATE_NODES = 81
_RATE_NODES_AT_ONE_SHAPE = 2001
_SCOUT_NODES = 121
_SCOUT_DEVIATIONS = 7.0
_TAIL = 1e-7
_GOLDEN_SHARE = (5.0**0.5 - 1.0) / 2.0
# log(shape) of a Weibull sample of n failures has variance 6/pi^2 / n for large n (Bain & Engelhardt 1991).
_LOG_SHAPE_VARIANCE_PER_FAILURE = 6.0 / np.pi**2


class Outcome(StrEnum):
    """How a fitted cord's story stands."""

    CONDEMNED = "condemned"
    PLANNED = "planned"
    FITTED = "fitted"
    INCIDENT = "incident"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class CordLife:
    """One fitted cord, all in life used D.

    `life_used`: at the finding, the removal or now. `last_good`: at the last check that found it good (condemned only;
    equal to `life_used` if it failed in front of someone). `entry`: when the book began, 0 if it was fitted new, None
    if its earlier use is unknown, which leaves it out of the estimate.
    """

    outcome: Outcome
    life_used: float
    last_good: float = 0.0
    entry: float | None = 0.0


@dataclass(frozen=True)
class History:
    """Life data of one spec with the cords counted by outcome; `left_out` had no known start."""

    data: LifeData
    counts: dict[Outcome, int]
    left_out: int

    @property
    def condemned(self) -> int:
        return self.counts[Outcome.CONDEMNED]


@dataclass(frozen=True)
class LifePrior:
    """What is believed before any history: median B10 `b10` (D), median shape `beta`, worth `worth_cords` failures."""

    b10: float = 1.0
    beta: float = 3.0
    worth_cords: float = 3.0

    def __post_init__(self) -> None:
        for name, value in (
            ("B10", self.b10),
            ("shape beta", self.beta),
            ("worth in cords", self.worth_cords),
        ):
            if not (np.isfinite(value) and value > 0.0):
                raise ValueError(f"prior {name} is {value}: it must be above 0 and finite; correct the setting.")

    @property
    def log_beta_sd(self) -> float:
        """Spread of ln beta that a sample of `worth_cords` failures would leave."""
        return float(np.sqrt(_LOG_SHAPE_VARIANCE_PER_FAILURE / self.worth_cords))

    @property
    def rate_inverse_scale(self) -> float:
        """b of the Gamma(worth_cords, b) prior of `rate`, chosen so that the median B10 is `b10` exactly."""
        return float(special.gammaincinv(self.worth_cords, 0.5)) / B10_CUMULATIVE_HAZARD

    def draw(self, count: int, rng: np.random.Generator) -> list[WeibullLife]:
        """Lives drawn from the prior (for simulation and checking)."""
        beta = self.beta * np.exp(self.log_beta_sd * rng.standard_normal(count))
        rate = rng.gamma(self.worth_cords, 1.0 / self.rate_inverse_scale, count)
        return [
            WeibullLife(self.b10 * float(r) ** (-1.0 / float(b)), float(b)) for r, b in zip(rate, beta, strict=True)
        ]


@dataclass(frozen=True)
class LifePosterior:
    """Grid posterior: `beta`, `eta` and `weight`, each (n,), the weights summing to 1."""

    prior: LifePrior
    beta: FloatArray
    eta: FloatArray
    weight: FloatArray
    history: History

    def credible_beta(self, level: float = 0.9) -> Interval:
        return self._credible(self.beta, level)

    def credible_eta(self, level: float = 0.9) -> Interval:
        return self._credible(self.eta, level)

    def credible_b10(self, level: float = 0.9) -> Interval:
        return self._credible(self._b10(), level)

    @property
    def planning_life(self) -> WeibullLife:
        """The one life to plan with: median B10 and median shape. With no history it is the prior's own."""
        middle = np.array([0.5])
        b10 = float(weighted_quantiles(self._b10(), self.weight, middle)[0])
        return WeibullLife.from_b10(b10, float(weighted_quantiles(self.beta, self.weight, middle)[0]))

    def survival_band(self, life_used: npt.ArrayLike, level: float = 0.9) -> FloatArray:
        """Lower end, median and upper end of survival at each `life_used` (m,): shape (3, m)."""
        tail = (1.0 - level) / 2.0
        wanted = np.array([tail, 0.5, 1.0 - tail])
        ages = np.atleast_1d(np.asarray(life_used, dtype=np.float64))
        rows = [weighted_quantiles(np.exp(-((a / self.eta) ** self.beta)), self.weight, wanted) for a in ages]
        return np.array(rows).T

    def predictive_survival(self, life_used: npt.ArrayLike) -> FloatArray:
        """Probability that a new cord of this spec lasts past `life_used` (m,), averaged over the posterior."""
        ages = np.atleast_1d(np.asarray(life_used, dtype=np.float64))
        return np.array([float(np.sum(self.weight * np.exp(-((a / self.eta) ** self.beta)))) for a in ages])

    @property
    def prior_leads(self) -> bool:
        return self.history.condemned < FAILURES_TO_LEAD

    def account(self) -> Said:
        """What this estimate rests on, in words and numbers."""
        b10, beta, life = self.credible_b10(), self.credible_beta(), self.planning_life
        estimate = say(
            "10 %% are expected to be condemned by life used %(life)s (90 %%: %(life_low)s to %(life_high)s), shape "
            "%(shape)s (%(shape_low)s to %(shape_high)s)",
            life=figure(life.b10, ".2f"),
            life_low=figure(b10.lower, ".2f"),
            life_high=figure(b10.upper, ".2f"),
            shape=figure(life.beta, ".1f"),
            shape_low=figure(beta.lower, ".1f"),
            shape_high=figure(beta.upper, ".1f"),
        )
        start = say(
            "the starting belief (life used %(life)s, shape %(shape)s) is worth %(cords)s condemned cords",
            life=figure(self.prior.b10),
            shape=figure(self.prior.beta),
            cords=figure(self.prior.worth_cords),
        )
        told = say(
            "%(estimate)s. It rests on %(rests)s; %(start)s.", estimate=estimate, rests=self._rests_on(), start=start
        )
        if not self.prior_leads:
            return told
        leads = say("Under %(cords)d condemned cords the prior still leads.", cords=FAILURES_TO_LEAD)
        return joined(" ", [told, leads])

    def _rests_on(self) -> Said:
        counts = self.history.counts
        return say(
            "%(condemned)d condemned, %(planned)d replaced as planned, %(fitted)d still fitted, %(incident)d lost to "
            "an incident, %(unknown)d removed for an unknown reason; %(left_out)d left out because their earlier use "
            "is unknown",
            condemned=counts[Outcome.CONDEMNED],
            planned=counts[Outcome.PLANNED],
            fitted=counts[Outcome.FITTED],
            incident=counts[Outcome.INCIDENT],
            unknown=counts[Outcome.UNKNOWN],
            left_out=self.history.left_out,
        )

    def _b10(self) -> FloatArray:
        return self.eta * B10_CUMULATIVE_HAZARD ** (1.0 / self.beta)

    def _credible(self, values: FloatArray, level: float) -> Interval:
        if not 0.0 < level < 1.0:
            raise ValueError(f"credible level is {level}: it must lie between 0 and 1, for example 0.9.")
        tail = (1.0 - level) / 2.0
        lower, upper = weighted_quantiles(values, self.weight, np.array([tail, 1.0 - tail]))
        return Interval(float(lower), float(upper), level)


def history_of(cords: Sequence[CordLife]) -> History:
    """Turn cord stories into life data: condemned is interval-censored, everything else right-censored."""
    known = [cord for cord in cords if cord.entry is not None]
    lower = [c.last_good if c.outcome is Outcome.CONDEMNED else c.life_used for c in known]
    upper = [c.life_used if c.outcome is Outcome.CONDEMNED else np.inf for c in known]
    entry = np.array([c.entry for c in known], dtype=np.float64)
    # A cord seen in use when the book began was good then, even if no check had been written down yet.
    data = LifeData(np.maximum(np.array(lower, dtype=np.float64), entry), np.array(upper, dtype=np.float64), entry)
    counts = {outcome: sum(c.outcome is outcome for c in known) for outcome in Outcome}
    return History(data, counts, len(cords) - len(known))


def learn(history: History, prior: LifePrior | None = None) -> LifePosterior:
    """Posterior of (eta, beta) for one cord spec. Cost: grid nodes x condemned cords."""
    belief = prior if prior is not None else LifePrior()
    scaled = _scaled(history, belief)
    reach = _SCOUT_DEVIATIONS * belief.log_beta_sd
    nodes = np.log(belief.beta) + np.linspace(-reach, reach, _SCOUT_NODES)
    # Two looks: a wide one to find where the shape's mass lies, a fine one there.
    scouted = special.logsumexp(_log_posterior(np.exp(nodes), _RATE_NODES, scaled, belief)[1], axis=1)
    first, last = support(nodes, scouted)
    beta = np.exp(np.linspace(float(first), float(last), _SHAPE_NODES))
    return _posterior(beta, _RATE_NODES, scaled, belief, history)


def learn_at_shape(history: History, beta: float, prior: LifePrior | None = None) -> LifePosterior:
    """Posterior of eta alone, for a house that holds the shape at `beta`."""
    if not (np.isfinite(beta) and beta > 0.0):
        raise ValueError(f"shape beta is {beta}: it must be above 0 and finite; correct the setting.")
    belief = prior if prior is not None else LifePrior()
    return _posterior(np.array([beta]), _RATE_NODES_AT_ONE_SHAPE, _scaled(history, belief), belief, history)


def _scaled(history: History, prior: LifePrior) -> LifeData:
    """Ages as multiples of the prior's B10, the age at which `rate` is the cumulative hazard."""
    data = history.data
    return LifeData(data.lower / prior.b10, data.upper / prior.b10, data.entry / prior.b10)


def _posterior(beta: FloatArray, rate_nodes: int, data: LifeData, prior: LifePrior, history: History) -> LifePosterior:
    rate, log_density = _log_posterior(beta, rate_nodes, data, prior)
    weight = np.exp(log_density - np.max(log_density))
    eta = prior.b10 * rate ** (-1.0 / beta[:, None])
    flat_beta = np.broadcast_to(beta[:, None], eta.shape).ravel()
    return LifePosterior(prior, flat_beta, eta.ravel(), (weight / weight.sum()).ravel(), history)


def _log_posterior(
    beta: FloatArray, rate_nodes: int, data: LifeData, prior: LifePrior
) -> tuple[FloatArray, FloatArray]:
    """Rates (s, r) that follow each shape, and the log of posterior mass of each node (log-uniform cells)."""
    exact, found = data.upper == data.lower, np.isfinite(data.upper)
    between = found & ~exact
    powers = beta[:, None]
    entry = np.sum(data.entry**powers, axis=1)
    good_until = np.sum(data.lower**powers, axis=1) - entry
    low, high = data.lower[between] ** powers, data.upper[between] ** powers
    shape = prior.worth_cords + np.count_nonzero(found)
    # The conjugate update with findings placed mid-interval tells where the mass is; it is not used as the density.
    centre = prior.rate_inverse_scale + good_until + np.sum((high - low) / 2.0, axis=1)
    spread = np.linspace(
        np.log(special.gammaincinv(shape, _TAIL)), np.log(special.gammainccinv(shape, _TAIL)), rate_nodes
    )
    # Each shape's rates are shifted by another share of a step, so that the nodes of all shapes together lie densely
    # along any direction and quantiles come out smooth.
    shift = (np.arange(beta.size) * _GOLDEN_SHARE % 1.0 - 0.5) * (spread[1] - spread[0])
    log_rate = spread[None, :] + (shift - np.log(centre))[:, None]
    rate = np.exp(log_rate)
    density = prior.worth_cords * log_rate - rate * prior.rate_inverse_scale
    density -= 0.5 * ((np.log(beta)[:, None] - np.log(prior.beta)) / prior.log_beta_sd) ** 2
    density -= rate * good_until[:, None]
    seen = int(np.count_nonzero(exact))
    log_age = float(np.sum(np.log(data.lower[exact])))
    density += seen * (log_rate + np.log(beta)[:, None]) + (beta[:, None] - 1.0) * log_age
    for column in range(low.shape[1]):
        width = rate * (high[:, column] - low[:, column])[:, None]
        density += np.log(-np.expm1(-np.maximum(width, np.finfo(np.float64).tiny)))
    return rate, density
