"""Wear of each fitted cord: its totals over every bow it was on, its rates on this one, its state at the last reset."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from fleet.models import CordReset, Fitting
from service.gather import Gathered, gather
from service.instants import SECONDS_PER_DAY, epoch_s
from service.use_ahead import mean_shots_per_day
from service.wear.arrays import Floats, Ints
from service.wear.exposure import Exposure, exposure
from service.wear.life import LifeShares, life_shares
from service.wear.rows import CordRows, ShotRows, picked
from service.wear.vehicle import CabinModel

# Time and heat a day are taken over this many days, or since fitting where that is shorter. House choice.
RATE_DAYS = 90.0
SHORTEST_RATE_DAYS = 1.0
SOME_FITTINGS = 500


@dataclass(frozen=True, eq=False)
class CordLives:
    """Wear of each fitted cord, one row per entry of `fittings`."""

    rows: Gathered
    fittings: list[Fitting]
    cords: CordRows
    total: Exposure
    at_reset: Exposure
    reset_s: Floats
    life: LifeShares
    shots_per_day: Floats
    heat_h_per_day: Floats
    life_per_day: LifeShares


def cord_lives(bow_ids: Iterable[int] | None, now: datetime) -> CordLives:
    """Wear of the cords fitted on some bows (None: all) as of `now`, from their whole history."""
    rows = gather(bow_ids)
    now_s, cords = epoch_s(now), rows.rows.cords
    cord, fitted = _cords_of(rows.fittings)
    until_now = _exposure(rows, cords, now_s)
    reset_s = np.minimum(_resets(rows.fittings, cords), now_s)
    at_reset = _exposure(rows, _until(cords, np.where(np.isnan(cords.removed_s), reset_s, cords.removed_s)), now_s)
    return with_rates(
        rows,
        fitted,
        _per_cord(until_now, cord, fitted),
        _per_cord(at_reset, cord, fitted),
        reset_s[fitted],
        now,
    )


def with_rates(
    rows: Gathered, fitted: Ints, total: Exposure, at_reset: Exposure, reset_s: Floats, now: datetime
) -> CordLives:
    """Life used and what it grows by: shots by the bow's learned use, time and heat by the last 90 days."""
    cords, now_s = picked(rows.rows.cords, fitted), epoch_s(now)
    fittings = [rows.fittings[i] for i in fitted]
    since_s = now_s - RATE_DAYS * SECONDS_PER_DAY
    lately = heat_exposure_of(rows, cords, now_s, since_s)
    days = np.clip((now_s - cords.fitted_s) / SECONDS_PER_DAY, SHORTEST_RATE_DAYS, RATE_DAYS)
    shelf = _shelf_fractions(rows, fittings)
    used = _life(lately, cords, shelf)
    weight = shot_weight(rows, cords)
    per_day = mean_shots_per_day([fitting.bow for fitting in fittings], now) * weight
    return CordLives(
        rows=rows,
        fittings=fittings,
        cords=cords,
        total=total,
        at_reset=at_reset,
        reset_s=reset_s,
        life=_life(total, cords, shelf),
        shots_per_day=per_day,
        heat_h_per_day=lately.heat_h / days,
        life_per_day=LifeShares(per_day / cords.rated_shots, used.time / days, used.heat / days),
    )


def shot_weight(rows: Gathered, cords: CordRows) -> Floats:
    """(w / w_rated)^m of each cord at its bow's present peak weight; 1 where that was never recorded."""
    own = rows.peak_weight_n[cords.bow]
    return np.where(np.isnan(own), 1.0, (own / cords.rated_peak_weight_n) ** cords.load_exponent)


def life_at(rows: Gathered, until_s: Floats) -> Floats:
    """Life used of each fitting's cord as of an instant of its own, every earlier fitting of the cord included."""
    cords = rows.rows.cords
    ends = np.where(np.isnan(cords.removed_s), until_s, np.minimum(cords.removed_s, until_s))
    parts = _exposure(rows, _until(cords, np.maximum(ends, cords.fitted_s)), float(np.max(until_s, initial=0.0)))
    cord, _ = _cords_of(rows.fittings)
    whole = _per_cord(parts, cord, np.arange(len(rows.fittings)))
    return _life(whole, cords, _shelf_fractions(rows, rows.fittings)).total


def _exposure(rows: Gathered, cords: CordRows, now_s: float, since_s: float = -np.inf) -> Exposure:
    house = rows.coefficients.house
    cabin = CabinModel(house["cabin_shade_factor"].value, house["cabin_boot_factor"].value, house["cabin_cap"].value)
    reference = house["reference_temperature"].value
    return exposure(replace(rows.rows, cords=cords), rows.place_heats, now_s, since_s, cabin, reference)


def heat_exposure_of(rows: Gathered, cords: CordRows, now_s: float, since_s: float) -> Exposure:
    """Time and heat of cords in a window, whatever shots there were."""
    nothing = np.empty(0)
    none = ShotRows(np.empty(0, dtype=np.int64), nothing, nothing, nothing, nothing)
    return _exposure(replace(rows, rows=replace(rows.rows, shots=none)), cords, now_s, since_s)


def _until(cords: CordRows, ends_s: Floats) -> CordRows:
    """The same cords, taken off at other instants."""
    return replace(cords, removed_s=np.maximum(ends_s, cords.fitted_s))


def _resets(fittings: Sequence[Fitting], cords: CordRows) -> Floats:
    """When each fitting's timing was last reset: its latest reset on record, else its fitting."""
    latest: dict[int, datetime] = {}
    ids = [fitting.pk for fitting in fittings if fitting.removed_at is None]
    resets = CordReset.objects.order_by("at").values_list("fitting_id", "at")
    # One bow's cords are asked for by name; a whole fleet's are read through.
    for fitting_id, at in resets.filter(fitting__in=ids) if len(ids) < SOME_FITTINGS else resets:
        latest[fitting_id] = at
    return np.array(
        [
            epoch_s(latest[f.pk]) if f.pk in latest else fitted
            for f, fitted in zip(fittings, cords.fitted_s, strict=True)
        ],
        dtype=np.float64,
    )


def _cords_of(fittings: Sequence[Fitting]) -> tuple[Ints, Ints]:
    """For each fitting the number of its cord; and which fittings are the current ones."""
    numbers: dict[int, int] = {}
    cord = np.array([numbers.setdefault(f.cord_id, len(numbers)) for f in fittings], dtype=np.int64)
    fitted = np.flatnonzero(np.array([f.removed_at is None for f in fittings], dtype=np.bool_)).astype(np.int64)
    return cord, fitted


def _per_cord(parts: Exposure, cord: Ints, chosen: Ints) -> Exposure:
    """Sums over all fittings of a cord, in the order of the chosen ones."""
    size = int(cord.max()) + 1 if cord.size else 0
    mine = cord[chosen]

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


def _shelf_fractions(rows: Gathered, fittings: Sequence[Fitting]) -> Floats:
    return np.array([rows.coefficients.of(f.cord.spec_id)["shelf_fraction"].value for f in fittings])


def _life(total: Exposure, cords: CordRows, shelf_fraction: Floats) -> LifeShares:
    return life_shares(
        total.weighted_shots,
        total.tension_h,
        total.shelf_h,
        total.heat_h,
        cords.rated_shots,
        cords.rated_h,
        cords.heat_weight,
        shelf_fraction,
    )
