"""The demo's shots: clumped, as rental shots are. None on many days, then a session or three of 30 to 60 an hour.

Every bow draws from its own generator, so that a change to one bow leaves the others as they are.
"""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from service.demo.roster import BowPlan, Use
from service.demo.sites import MONDAY, SATURDAY, SUNDAY, THURSDAY, TUESDAY
from service.demo.weather import SEASON_DAYS

SEED = 20_417
SESSION_STARTS = (10, 11, 13, 14, 15, 16, 17)


@dataclass(frozen=True)
class Session:
    """One hour's shooting, or several hours of one guest: which day of the season, at which hour, how many shots."""

    day: int
    hour: int
    hours: int
    shots: int
    how_known: str
    shots_sd: float
    is_guest: bool


def generator(tag: str, what: str) -> np.random.Generator:
    """The generator of one bow (or place) for one purpose."""
    return np.random.default_rng([SEED, *f"{tag} {what}".encode()])


def sessions_of(bow: BowPlan, today: date) -> list[Session]:
    """A bow's sessions over the whole season, in order of time."""
    rng = generator(bow.tag, "sessions")
    liked = float(np.clip(rng.gamma(9.0, 1.0 / 9.0), 0.5, 1.7))
    found: list[Session] = []
    for day in range(SEASON_DAYS + 1):
        weekday = (today - timedelta(days=SEASON_DAYS - day)).weekday()
        found += _SESSIONS[bow.use](rng, day, weekday, liked)
    return found


def _rental(rng: np.random.Generator, day: int, weekday: int, liked: float) -> list[Session]:
    if weekday == MONDAY:
        return []
    busy = 0.55 if weekday in (SATURDAY, SUNDAY) else 0.24
    if rng.random() >= busy * _season(day) * liked:
        return []
    starts = sorted(rng.choice(SESSION_STARTS, size=int(1 + rng.integers(0, 2) * (busy > 0.5)), replace=False))
    return [_guest(rng, day, int(hour)) for hour in starts]


def _guest(rng: np.random.Generator, day: int, hour: int) -> Session:
    per_hour = int(rng.integers(30, 61))
    return Session(day, hour, 1, per_hour, "estimated", round(0.15 * per_hour, 1), True)


def _school(rng: np.random.Generator, day: int, weekday: int, liked: float) -> list[Session]:
    if weekday not in (TUESDAY, THURSDAY) or rng.random() > 0.92:
        return []
    return [Session(day, hour, 1, 40, "scorecard", 2.0, False) for hour in ((10, 13) if weekday == TUESDAY else (10,))]


def _staff(rng: np.random.Generator, day: int, weekday: int, liked: float) -> list[Session]:
    if rng.random() >= 0.4:
        return []
    return [Session(day, 17, 1, int(rng.integers(40, 101)), "counter", 0.0, False)]


def _camp(rng: np.random.Generator, day: int, weekday: int, liked: float) -> list[Session]:
    busy = 0.5 if weekday in (SATURDAY, SUNDAY) else 0.2
    if rng.random() >= busy * _season(day) * liked:
        return []
    hours = int(rng.integers(1, 3))
    shots = int(sum(rng.integers(25, 51, size=hours)))
    return [Session(day, int(rng.choice((10, 13, 15))), hours, shots, "estimated", round(0.2 * shots, 1), True)]


def _season(day: int) -> float:
    """How busy a day of the season is: slow spring, full summer."""
    return float(0.75 + 0.35 * np.sin(np.pi * day / SEASON_DAYS))


_SESSIONS = {Use.RENTAL: _rental, Use.SCHOOL: _school, Use.STAFF: _staff, Use.CAMP: _camp}
