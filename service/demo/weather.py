"""The demo's weather: synthetic, stated as such, made of a season's curve, a day's curve, drift and one heat wave.

No station's data. The demo's year is anchored to the day on which it is loaded: its season began in a cool spring
200 days ago and ends today in a mild autumn, whatever the calendar says, with a heat wave from 52 to 45 days ago.
Temperatures are degC; hours count from the first instant of the season.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

Hours = NDArray[np.float64]

SEASON_DAYS = 200
HEAT_WAVE_DAYS_AGO = (52, 45)
HEAT_WAVE_RISE_C = 10.0
SOURCE = "synthetic weather of the demo"
# Roughly how often wear from heat doubles; used only to choose when the story's cords were changed.
DOUBLING_C = 4.4
REFERENCE_C = 23.0


@dataclass(frozen=True, eq=False)
class Series:
    """Temperatures of one place: hours since the season began, and degC, equally long."""

    hours: Hours
    celsius: Hours

    def instants(self, begin: datetime) -> list[datetime]:
        """The instants of the readings."""
        return [begin + timedelta(hours=float(hour)) for hour in self.hours]

    def heat_by_day(self) -> Hours:
        """Roughly how much faster than at the reference a cord ages, as a mean for each day of the season."""
        factor = 2.0 ** ((self.celsius - REFERENCE_C) / DOUBLING_C)
        day = np.minimum((self.hours // 24).astype(int), SEASON_DAYS)
        sums = np.bincount(day, weights=factor, minlength=SEASON_DAYS + 1)
        return np.asarray(sums / np.maximum(np.bincount(day, minlength=SEASON_DAYS + 1), 1))


def outside(hours: Hours, rng: np.random.Generator, warmest_c: float, swing_c: float) -> Hours:
    """Outside air: spring to summer to autumn, warmest two thirds through, coolest before sunrise."""
    days = hours / 24.0
    season = warmest_c - 11.0 * (1.0 - np.cos(2.0 * np.pi * (days - 0.62 * SEASON_DAYS) / 365.0))
    of_day = 0.5 * swing_c * np.cos(2.0 * np.pi * (hours % 24 - 15.0) / 24.0)
    shocks = rng.normal(0.0, 1.6, SEASON_DAYS + 2)
    drift = np.zeros(SEASON_DAYS + 2)
    for day in range(1, drift.size):
        drift[day] = 0.75 * drift[day - 1] + shocks[day]
    begin, end = (SEASON_DAYS - ago for ago in HEAT_WAVE_DAYS_AGO)
    wave = HEAT_WAVE_RISE_C * np.clip(np.minimum(days - begin, end - days), 0.0, 1.0)
    return np.asarray(season + of_day + np.interp(days, np.arange(drift.size), drift) + wave)


def reading_hours(every_h: float, until_h: float) -> Hours:
    """Hours of regular readings from the season's begin until an hour of it."""
    return np.arange(0.0, until_h, every_h)


def hall_rack(until_h: float, rng: np.random.Generator) -> Series:
    """A hall with some heating and little cooling, read each hour; the logger's battery failed for nine hours once."""
    hours = reading_hours(1.0, until_h)
    air = outside(hours, rng, warmest_c=24.0, swing_c=12.0)
    inside = 20.5 + 0.3 * np.maximum(air - 17.0, 0.0) + rng.normal(0.0, 0.2, hours.size)
    kept = (hours < 120 * 24 + 2) | (hours > 120 * 24 + 11)
    return Series(hours[kept], np.round(inside[kept], 1))


def store(until_h: float, rng: np.random.Generator) -> Series:
    """An unheated timber store at the camp, read every three hours: the air outside, damped."""
    hours = reading_hours(3.0, until_h)
    air = outside(hours, rng, warmest_c=20.0, swing_c=6.0)
    return Series(hours, np.round(air + rng.normal(0.0, 0.3, hours.size), 1))


def trailer(until_h: float, rng: np.random.Generator) -> Series:
    """A closed trailer in the sun, read every three hours: up to 17 degC above the air at midday."""
    hours = reading_hours(3.0, until_h)
    air = outside(hours, rng, warmest_c=20.0, swing_c=10.0)
    sun = 17.0 * np.maximum(np.cos(2.0 * np.pi * (hours % 24 - 13.0) / 24.0), 0.0) ** 1.5
    return Series(hours, np.round(air + sun * rng.uniform(0.4, 1.0, hours.size), 1))
