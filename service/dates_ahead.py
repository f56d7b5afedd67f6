"""The 10/50/90 % dates of each fitted cord reaching its replacement point."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from fleet.models import Bow, Site
from service.cord_lives import CordLives, shot_weight
from service.forecast.passage import LifeAhead, PassageDays, replacement_days
from service.instants import day_of
from service.use_ahead import use_ahead
from service.wear.arrays import Floats, Ints

HORIZON_DAYS = 731


@dataclass(frozen=True)
class Bounds:
    """The day reached with 10, 50 and 90 % probability; None = beyond the horizon."""

    early: date | None
    middle: date | None
    late: date | None


def bounds_of(days: PassageDays, today: list[date]) -> list[Bounds]:
    """Days ahead as calendar days, counted from each row's own today."""

    def day(row: int, ahead: float) -> date | None:
        return today[row] + timedelta(days=int(ahead)) if np.isfinite(ahead) else None

    triples = zip(days.p10, days.p50, days.p90, strict=True)
    return [Bounds(day(i, a), day(i, b), day(i, c)) for i, (a, b, c) in enumerate(triples)]


def replacement_bounds(lives: CordLives, points: Floats, now: datetime) -> list[Bounds]:
    """When each cord's life used reaches its replacement point, under uncertain use and coefficients."""
    found: list[Bounds] = [Bounds(None, None, None)] * len(lives.fittings)
    by_site: dict[int, list[int]] = defaultdict(list)
    for i, fitting in enumerate(lives.fittings):
        by_site[fitting.bow.site_id].append(i)
    for rows in by_site.values():
        for i, bounds in zip(rows, _site_bounds(lives, np.array(rows), points, now), strict=True):
            found[i] = bounds
    return found


def _site_bounds(lives: CordLives, rows: Ints, points: Floats, now: datetime) -> list[Bounds]:
    fittings = [lives.fittings[i] for i in rows]
    site: Site = fittings[0].bow.site
    bows: dict[int, Bow] = {fitting.bow_id: fitting.bow for fitting in fittings}
    index = {pk: i for i, pk in enumerate(bows)}
    today = day_of(now, site.time_zone)
    ahead = np.arange(1, HORIZON_DAYS + 1, dtype=np.float64)
    by_time = lives.life.time + lives.life.heat
    per_day = lives.life_per_day.time + lives.life_per_day.heat
    tables = [lives.rows.coefficients.of(fitting.cord.spec_id) for fitting in fittings]
    cords = lives.cords
    weight = shot_weight(lives.rows, cords)[rows]
    life = LifeAhead(
        bow=np.array([index[fitting.bow_id] for fitting in fittings], dtype=np.int64),
        from_shots=lives.life.shots[rows],
        from_time=np.maximum(by_time[rows], 0.0),
        per_shot=weight / cords.rated_shots[rows],
        time_ahead=np.maximum(per_day[rows], 0.0)[:, None] * ahead,
        shot_log_sd=np.array([table["shot_wear_log_sd"].value for table in tables]),
        time_log_sd=np.array([table["time_wear_log_sd"].value for table in tables]),
        threshold=points[rows],
    )
    days = replacement_days(life, use_ahead(site, list(bows.values()), today, HORIZON_DAYS, lives.use_factor))
    return bounds_of(days, [today] * len(fittings))
