"""The model of `ahead`, drawn path by path: slower, exact, for one bow at a time. Same seed, same paths."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from service.forecast.ahead import UseAhead
from service.forecast.passage import PROBABILITIES, LifeAhead

FloatArray = npt.NDArray[np.float64]

DEFAULT_PATHS = 4000
DEFAULT_SEED = 20_210_714


@dataclass(frozen=True)
class PassageDraws:
    """Day of passage of each path (paths,), inf beyond the horizon, and its 10, 50 and 90 % days."""

    days: FloatArray

    def quantile(self, probability: float) -> float:
        """The first day by whose end at least this share of paths has passed."""
        rank = int(np.ceil(probability * self.days.size - 1e-9)) - 1
        return float(np.sort(self.days)[rank])

    @property
    def p10_p50_p90(self) -> tuple[float, float, float]:
        low, middle, high = (self.quantile(p) for p in PROBABILITIES)
        return low, middle, high


def simulate_shots(use: UseAhead, bow: int, rng: np.random.Generator, paths: int = DEFAULT_PATHS) -> FloatArray:
    """Cumulative shots of one bow to the end of each day ahead, (paths, days)."""
    exposure = use.open_exposure()
    own_exposure = exposure[bow if exposure.shape[0] > 1 else 0]
    a = use.rate_shape()[bow]
    floor, rate_mean = float(use.least_shape()[bow]), float(use.belief.mean[bow])
    mean = _drawn_mean(use, bow, rng, paths)
    k = use.shots.relative_sd**-2.0
    booked = np.zeros(use.days) if use.booked_shots is None else use.booked_shots[bow]
    level = rng.gamma(a[0], 1.0, paths)
    shots = np.empty((paths, use.days))
    for day in range(use.days):
        if day > 0 and use.discount < 1.0:
            kept = rng.beta(use.discount * a[day - 1], (1.0 - use.discount) * a[day - 1], paths)
            level = kept * level + rng.gamma((1.0 - use.discount) * floor, 1.0, paths)
        sessions = rng.poisson(rate_mean * level / a[day] * own_exposure[day])
        shots[:, day] = np.where(sessions > 0, rng.gamma(np.maximum(sessions, 1) * k, mean / k), 0.0)
        if booked[day] > 0.0:
            shots[:, day] += rng.gamma(k, booked[day] / k, paths)
    return np.cumsum(shots, axis=1)


def _drawn_mean(use: UseAhead, bow: int, rng: np.random.Generator, paths: int) -> FloatArray:
    """The bow's mean shots per session, as uncertain as it is; gamma about its estimate."""
    spread, centre = float(use.shots.mean_relative_sd[bow]), float(use.shots.mean[bow])
    return rng.gamma(spread**-2.0, centre * spread**2, paths) if spread > 0.0 else np.full(paths, centre)


def simulate_replacement(
    life: LifeAhead, cord: int, use: UseAhead, seed: int = DEFAULT_SEED, paths: int = DEFAULT_PATHS
) -> PassageDraws:
    """Days until one cord's life used reaches its threshold, by simulation with a fixed seed."""
    rng = np.random.default_rng([seed, cord])
    shots = simulate_shots(use, int(life.bow[cord]), rng, paths)
    shot_factor = np.exp(life.shot_log_sd[cord] * rng.standard_normal((paths, 1)))
    time_factor = np.exp(life.time_log_sd[cord] * rng.standard_normal((paths, 1)))
    now = shot_factor * life.from_shots[cord] + time_factor * life.from_time[cord]
    ahead = shot_factor * life.per_shot[cord] * shots + time_factor * life.time_ahead[cord]
    reached = np.concatenate([now, now + ahead], axis=1) >= life.threshold[cord]
    return PassageDraws(np.where(np.any(reached, axis=1), np.argmax(reached, axis=1), np.inf))
