"""Simulated fleets for the forecast tests: three ways in which use may go on, neither drawn by the project's code."""

from datetime import date

import numpy as np

from service.forecast.pattern import calendar_from
from service.forecast.use import UseHistory

WEEKDAY_BUSYNESS = np.array([0.6, 0.7, 0.7, 0.8, 1.0, 1.8, 1.4])
MEAN_SHOTS, SHOTS_SPREAD = 45.0, 0.6


def steady_rates(bows: int, days: int, rng: np.random.Generator) -> np.ndarray:
    """Bows differ (gamma, mean 0.4 a day) and stay as they are, (bows, days)."""
    return np.repeat(rng.gamma(4.0, 0.1, (bows, 1)), days, axis=1)


def gamma_wandering_rates(bows: int, days: int, rng: np.random.Generator, memory: float = 0.99) -> np.ndarray:
    """Rates that stay gamma-distributed (mean 0.4 a day) and forget themselves by `memory` a day, (bows, days)."""
    shape = 4.0
    level = rng.gamma(shape, 1.0, bows)
    rates = np.empty((bows, days))
    for day in range(days):
        rates[:, day] = level * 0.4 / shape
        kept = rng.beta(memory * shape, (1.0 - memory) * shape, bows)
        level = kept * level + rng.gamma((1.0 - memory) * shape, 1.0, bows)
    return rates


def clumped_rates(bows: int, days: int, rng: np.random.Generator) -> np.ndarray:
    """A lasting favourite factor per bow, times spells of weeks in and out of favour, (bows, days)."""
    favourite = 0.4 * np.exp(0.5 * rng.standard_normal(bows))
    state = rng.standard_normal(bows)
    rates = np.empty((bows, days))
    for day in range(days):
        rates[:, day] = favourite * np.exp(0.6 * state - 0.18)
        state = 0.97 * state + np.sqrt(1.0 - 0.97**2) * rng.standard_normal(bows)
    return rates


def history_from(rates: np.ndarray, rng: np.random.Generator, first: date = date(2030, 1, 1)) -> UseHistory:
    """Draw sessions and shots from daily rates of an always open, invented house."""
    bows, days = rates.shape
    calendar = calendar_from(first, days, frozenset(range(7)), frozenset())
    sessions = rng.poisson(rates * WEEKDAY_BUSYNESS[calendar.weekday])
    bow, day = (np.repeat(index, sessions.ravel()) for index in np.divmod(np.arange(bows * days), days))
    own_mean = MEAN_SHOTS * np.exp(0.2 * rng.standard_normal(bows))
    shots = rng.gamma(SHOTS_SPREAD**-2.0, own_mean[bow] * SHOTS_SPREAD**2.0)
    return UseHistory(calendar, bow, day, shots, np.zeros(bows, dtype=np.int64))
