"""Shots ahead of each bow, for the whole fleet at once, by moments.

Model (the same that `simulation` draws): the rate keeps its present mean; what is known of it fades by `discount` a day
toward what is known of a bow without history. With G ~ Gamma(a) thinned by Beta(omega a, (1 - omega) a) and refilled by
Gamma((1 - omega) a0) each day, the rate on day t is Gamma(a_t) about its mean with a_t = a0 + omega^t (a - a0) and
covariance mean^2 omega^(t-s) / a_t between days s < t (the beta-gamma thinning of Lewis, McKenzie & Hugus 1989).
Sessions are Poisson on it, shots per session gamma, booked sessions known.

Approximation: the sum of shots is given a mass at 0 (no session) and, above it, the gamma distribution of the same mean
and variance. `tests/forecast` shows how far that is from simulation.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from service.forecast.rates import DEFAULT_DISCOUNT, GroupRate, RateBelief
from service.forecast.shots import SessionShots

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class UseAhead:
    """Everything that decides the shots to come. Arrays (n,) per bow; `exposure` (days,) or (n, days).

    `booked_shots` (n, days), or None: shots expected of known bookings of that very bow. On a day with a booking the
    booking takes the place of chance hires. `clumping` (1 or more) divides what the rate's belief is worth: how much
    wider than the model's own the group's past errors were.
    """

    belief: RateBelief
    group: GroupRate
    shots: SessionShots
    exposure: FloatArray
    booked_shots: FloatArray | None = None
    discount: float = DEFAULT_DISCOUNT
    clumping: float = 1.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.clumping) and self.clumping >= 1.0):
            raise ValueError(f"clumping of use is {self.clumping}: it must be 1 (as modelled) or more.")

    @property
    def bows(self) -> int:
        return int(self.belief.shape.size)

    @property
    def days(self) -> int:
        return int(self.exposure.shape[-1])

    def some(self, rows: slice) -> "UseAhead":
        """The same for a run of bows."""
        return UseAhead(
            RateBelief(self.belief.shape[rows], self.belief.inverse_scale[rows]),
            self.group,
            SessionShots(self.shots.mean[rows], self.shots.mean_relative_sd[rows], self.shots.relative_sd),
            self.exposure if self.exposure.ndim == 1 else self.exposure[rows],
            None if self.booked_shots is None else self.booked_shots[rows],
            self.discount,
            self.clumping,
        )

    def open_exposure(self) -> FloatArray:
        """Exposure to chance hires, (1, days) or (n, days): none on a day that is booked."""
        exposure = np.atleast_2d(self.exposure)
        return exposure if self.booked_shots is None else np.where(self.booked_shots > 0.0, 0.0, exposure)

    def rate_shape(self) -> FloatArray:
        """a_t of the rate on each day ahead, (n, days)."""
        fade = self.discount ** np.arange(1, self.days + 1, dtype=np.float64)
        floor = self.least_shape()
        return floor[:, None] + fade * (self.belief.shape / self.clumping - floor)[:, None]

    def least_shape(self) -> FloatArray:
        """a0, toward which a_t fades: what is known of a bow without history, (n,)."""
        return np.minimum(self.group.shape, self.belief.shape) / self.clumping


@dataclass(frozen=True)
class CumulativeShots:
    """Shots from now to the end of each day ahead: mean, variance and chance of none at all, arrays (n, days)."""

    mean: FloatArray
    variance: FloatArray
    none: FloatArray

    def at_least(self, shots: FloatArray, row: IntArray, day: IntArray) -> FloatArray:
        """Probability that bow `row` has taken at least `shots` by the end of `day` (0-based); all arrays (k,).

        `shots` at or below 0 are certain.
        """
        given_any = self.at_least_given_any(shots[:, None], row, day)[:, 0]
        return np.where(shots <= 0.0, 1.0, (1.0 - self.none[row, day]) * given_any)

    def at_least_given_any(self, shots: FloatArray, row: IntArray, day: IntArray) -> FloatArray:
        """The same for `shots` (k, m), given that there was a session at all; 0 where there can be none."""
        mean, variance, none = (a[row, day][:, None] for a in self._arrays)
        shape, scale = _positive_part(mean, variance, none)
        tail = special.gammaincc(np.maximum(shape, 1e-300), np.maximum(shots, 0.0) / scale)
        return np.where(shape > 0.0, tail, 0.0)

    def quantile(self, probability: float, day: int) -> FloatArray:
        """Shots not exceeded with `probability` by the end of `day` (0-based), (n,)."""
        mean, variance, none = (a[:, day] for a in self._arrays)
        shape, scale = _positive_part(mean, variance, none)
        above = np.where(none < 1.0, (probability - none) / np.where(none < 1.0, 1.0 - none, 1.0), 0.0)
        inside = special.gammaincinv(np.maximum(shape, 1e-300), np.clip(above, 0.0, 1.0)) * scale
        return np.where((above > 0.0) & (shape > 0.0), inside, 0.0)

    @property
    def _arrays(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        return self.mean, self.variance, self.none


def shots_ahead(use: UseAhead) -> CumulativeShots:
    """Moments of cumulative shots of each bow over each day ahead; cost and memory bows x days."""
    exposure, rate = use.open_exposure(), use.belief.mean[:, None]
    sessions = rate * np.cumsum(exposure, axis=1)
    remembered = np.zeros_like(exposure)
    for day in range(1, use.days):
        remembered[:, day] = use.discount * (remembered[:, day - 1] + exposure[:, day - 1])
    pairs = exposure * (exposure + 2.0 * remembered)
    sessions_variance = rate**2 * np.cumsum(pairs / use.rate_shape(), axis=1)

    mean_shots, session_spread = use.shots.mean[:, None], use.shots.relative_sd**2
    unsure = use.shots.mean_relative_sd[:, None] ** 2
    mean = mean_shots * sessions
    variance = mean_shots**2 * (sessions * (1.0 + session_spread) + sessions_variance)
    variance = variance * (1.0 + unsure) + unsure * mean**2
    none = _chance_of_none(sessions, sessions_variance)
    if use.booked_shots is not None:
        booked = np.cumsum(use.booked_shots, axis=1)
        mean = mean + booked
        variance = variance + session_spread * np.cumsum(use.booked_shots**2, axis=1)
        none = np.where(booked > 0.0, 0.0, none)
    return CumulativeShots(mean, variance, none)


def _chance_of_none(sessions: FloatArray, variance: FloatArray) -> FloatArray:
    """E exp(-L) of a gamma-distributed number of expected sessions L with this mean and variance."""
    ratio = np.divide(variance, sessions, out=np.zeros_like(variance), where=sessions > 0.0)
    power = np.divide(sessions, ratio, out=np.zeros_like(variance), where=ratio > 0.0)
    return np.where(ratio > 0.0, np.exp(-power * np.log1p(ratio)), np.exp(-sessions))


def _positive_part(mean: FloatArray, variance: FloatArray, none: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Gamma shape and scale of shots given that there are any; shape 0 where there can be none."""
    some = np.where(none < 1.0, 1.0 - none, 1.0)
    given_mean = mean / some
    given_variance = (variance + mean**2) / some - given_mean**2
    usable = (none < 1.0) & (given_mean > 0.0) & (given_variance > 0.0)
    scale = np.where(usable, given_variance / np.where(usable, given_mean, 1.0), 1.0)
    return np.where(usable, given_mean / scale, 0.0), scale
