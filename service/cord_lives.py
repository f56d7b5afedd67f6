"""Wear of each fitted cord: its totals over every bow it was on, and its rates on the one it is on now."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from fleet.models import Fitting
from service.gather import Coefficients, gather
from service.instants import SECONDS_PER_DAY, epoch_s
from service.wear.arrays import Floats, Ints
from service.wear.exposure import Exposure, exposure
from service.wear.life import LifeShares, life_shares
from service.wear.rows import CordRows

# The mean use rate is taken over this many days, or since fitting where that is shorter. House choice.
RATE_DAYS = 90.0
SHORTEST_RATE_DAYS = 1.0


@dataclass(frozen=True, eq=False)
class CordLives:
    """Wear of each fitted cord: which fitting, its totals over all bows it was on, and its rates on this one."""

    fittings: list[Fitting]
    total: Exposure
    life: LifeShares
    shots_per_day: Floats
    life_per_day: LifeShares
    coefficients: Coefficients


def cord_lives(bow_ids: Iterable[int] | None, now: datetime) -> CordLives:
    """Wear of the cords fitted on some bows (None: all) as of `now`."""
    rows = gather(bow_ids, now)
    now_s = epoch_s(now)
    per_fitting = exposure(rows.rows, rows.place_heats, now_s)
    recent = exposure(rows.rows, rows.place_heats, now_s, now_s - RATE_DAYS * SECONDS_PER_DAY)
    cord, fitted = _cords_of(rows.fittings)
    cords = rows.rows.cords
    shelf_fraction = np.array([rows.coefficients.of(f.cord.spec_id)["shelf_fraction"].value for f in rows.fittings])
    total = _per_cord(per_fitting, cord, fitted)
    window_days = np.clip((now_s - cords.fitted_s) / SECONDS_PER_DAY, SHORTEST_RATE_DAYS, RATE_DAYS)[fitted]
    life = _life(total, rows.rows.cords, shelf_fraction, fitted)
    lately = _life(_picked(recent, fitted), rows.rows.cords, shelf_fraction, fitted)
    return CordLives(
        [rows.fittings[i] for i in fitted],
        total,
        life,
        recent.weighted_shots[fitted] / window_days,
        LifeShares(lately.shots / window_days, lately.time / window_days, lately.heat / window_days),
        rows.coefficients,
    )


def _cords_of(fittings: Sequence[Fitting]) -> tuple[Ints, Ints]:
    """For each fitting the number of its cord; and which fittings are the current ones."""
    numbers: dict[int, int] = {}
    cord = np.array([numbers.setdefault(f.cord_id, len(numbers)) for f in fittings], dtype=np.int64)
    fitted = np.flatnonzero(np.array([f.removed_at is None for f in fittings], dtype=np.bool_))
    return cord, fitted


def _per_cord(parts: Exposure, cord: Ints, fitted: Ints) -> Exposure:
    """Sums over all fittings of a cord, in the order of the fitted ones."""
    size = int(cord.max()) + 1 if cord.size else 0
    mine = cord[fitted]

    def summed(values: Floats) -> Floats:
        totals = np.zeros(size)
        np.add.at(totals, cord, values)
        return totals[mine]

    hottest = np.full(size, -np.inf)
    np.fmax.at(hottest, cord, parts.max_temperature_c)
    return Exposure(
        summed(parts.weighted_shots),
        summed(parts.tension_h),
        summed(parts.shelf_h),
        summed(parts.heat_h),
        np.where(np.isfinite(hottest), hottest, np.nan)[mine],
    )


def _picked(parts: Exposure, which: Ints) -> Exposure:
    return Exposure(
        parts.weighted_shots[which],
        parts.tension_h[which],
        parts.shelf_h[which],
        parts.heat_h[which],
        parts.max_temperature_c[which],
    )


def _life(total: Exposure, cords: CordRows, shelf_fraction: Floats, fitted: Ints) -> LifeShares:
    return life_shares(
        total.weighted_shots,
        total.tension_h,
        total.shelf_h,
        total.heat_h,
        cords.rated_shots[fitted],
        cords.rated_h[fitted],
        cords.heat_weight[fitted],
        shelf_fraction[fitted],
    )
