"""Wear of each fitted cord: its totals over every bow it was on, its rates on this one, its state at the last reset."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

import numpy as np

from fleet.models import CordReset, Fitting, ReferenceSet
from fleet.vocabulary import Origin
from service.columns import columns, indices_of
from service.exposures import exposure_of, heat_exposure_of
from service.fitted import MOST_NAMED, FittingRows
from service.gather import Gathered, gather
from service.instants import SECONDS_PER_DAY, epoch_s
from service.learned_creep import CreepBelief, creep_learned
from service.use_ahead import mean_shots_per_day
from service.wear.arrays import Floats, Ints
from service.wear.exposure import Exposure
from service.wear.life import LifeShares, life_shares
from service.wear.rows import CordRows, picked

# Time and heat a day are taken over this many days, or since fitting where that is shorter. House choice.
RATE_DAYS = 90.0
SHORTEST_RATE_DAYS = 1.0


@dataclass(frozen=True, eq=False)
class CordLives:
    """Wear of each fitted cord, one row per entry of `fitted`: the rows of `rows` that are on their bow now."""

    rows: Gathered
    fitted: Ints
    cords: CordRows
    total: Exposure
    at_reset: Exposure
    reset_s: Floats
    life: LifeShares
    shots_per_day: Floats
    heat_h_per_day: Floats
    life_per_day: LifeShares
    creep: CreepBelief
    use_factor: float = 1.0
    """What the rates of use are multiplied by: 1 but for a what-if."""

    @cached_property
    def fittings(self) -> list[Fitting]:
        """The fittings as records, one per row; read when asked for."""
        return [self.rows.fittings[i] for i in self.fitted]


def cord_lives(bow_ids: Iterable[int] | None, now: datetime) -> CordLives:
    """Wear of the cords fitted on some bows (None: all) as of `now`, from their whole history."""
    rows = gather(bow_ids)
    now_s, cords = epoch_s(now), rows.rows.cords
    fitted = np.flatnonzero(rows.keys.is_fitted).astype(np.int64)
    cord = _numbered(rows.keys.cord)
    until_now = exposure_of(rows, cords, now_s)
    reset_s = np.minimum(_resets(rows.keys), now_s)
    at_reset = exposure_of(rows, _until(cords, np.where(np.isnan(cords.removed_s), reset_s, cords.removed_s)), now_s)
    return with_rates(
        rows,
        fitted,
        _per_cord(until_now, cord, fitted),
        _per_cord(at_reset, cord, fitted),
        reset_s[fitted],
        creep_learned(rows, fitted, now),
        now,
    )


def with_rates(
    rows: Gathered,
    fitted: Ints,
    total: Exposure,
    at_reset: Exposure,
    reset_s: Floats,
    creep: CreepBelief,
    now: datetime,
) -> CordLives:
    """Life used and what it grows by: shots by the bow's learned use, time and heat by the last 90 days."""
    cords, now_s = picked(rows.rows.cords, fitted), epoch_s(now)
    since_s = now_s - RATE_DAYS * SECONDS_PER_DAY
    lately = heat_exposure_of(rows, cords, now_s, since_s)
    days = np.clip((now_s - cords.fitted_s) / SECONDS_PER_DAY, SHORTEST_RATE_DAYS, RATE_DAYS)
    shelf = _shelf_fractions(rows)[fitted]
    used = _life(lately, cords, shelf)
    weight = shot_weight(rows, cords)
    per_day = mean_shots_per_day(rows.bow_ids, rows.site_ids, now)[cords.bow] * weight
    return CordLives(
        rows=rows,
        fitted=fitted,
        cords=cords,
        total=total,
        at_reset=at_reset,
        reset_s=reset_s,
        life=_life(total, cords, shelf),
        shots_per_day=per_day,
        heat_h_per_day=lately.heat_h / days,
        life_per_day=LifeShares(per_day / cords.rated_shots, used.time / days, used.heat / days),
        creep=creep,
    )


def shot_weight(rows: Gathered, cords: CordRows) -> Floats:
    """(w / w_rated)^m of each cord at its bow's present peak weight; 1 where that was never recorded."""
    own = rows.peak_weight_n[cords.bow]
    return np.where(np.isnan(own), 1.0, (own / cords.rated_peak_weight_n) ** cords.load_exponent)


def life_at(rows: Gathered, until_s: Floats) -> Floats:
    """Life used of each fitting's cord as of an instant of its own, every earlier fitting of the cord included."""
    cords = rows.rows.cords
    ends = np.where(np.isnan(cords.removed_s), until_s, np.minimum(cords.removed_s, until_s))
    parts = exposure_of(rows, _until(cords, np.maximum(ends, cords.fitted_s)), float(np.max(until_s, initial=0.0)))
    whole = _per_cord(parts, _numbered(rows.keys.cord), np.arange(cords.bow.size))
    return _life(whole, cords, _shelf_fractions(rows)).total


def _until(cords: CordRows, ends_s: Floats) -> CordRows:
    """The same cords, taken off at other instants."""
    return replace(cords, removed_s=np.maximum(ends_s, cords.fitted_s))


def _resets(keys: FittingRows) -> Floats:
    """From when each fitting's stretch counts: its latest reset, or its bow's reference set if taken on it since."""
    resets = CordReset.objects.all()
    sets = ReferenceSet.objects.filter(current=True).exclude(origin=Origin.MAKER)
    if keys.fitting.size <= MOST_NAMED:
        resets = resets.filter(fitting__in=keys.fitting.tolist())
        sets = sets.filter(bow__in=set(keys.bow.tolist()))
    fitting, reset_s = columns(resets, "fitting_id", at="at")
    latest = keys.fitted_s.copy()
    known = np.isin(fitting, keys.fitting)
    index = {pk: i for i, pk in enumerate(keys.fitting.tolist())}
    np.maximum.at(latest, indices_of(fitting[known], index), reset_s[known])
    bow, taken_s = columns(sets, "bow_id", at="taken_at")
    taken = dict(zip(bow.tolist(), taken_s.tolist(), strict=True))
    in_force = np.array([taken.get(bow, -np.inf) for bow in keys.bow.tolist()], dtype=np.float64)
    return np.where(keys.is_fitted, np.maximum(latest, in_force), latest)


def _numbered(cord_ids: Ints) -> Ints:
    """Cords numbered from 0; rows come by cord."""
    return np.unique(cord_ids, return_inverse=True)[1].astype(np.int64)


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


def _shelf_fractions(rows: Gathered) -> Floats:
    """What a shelf hour counts for each fitting's cord."""
    specs, which = np.unique(rows.keys.spec, return_inverse=True)
    return np.array([rows.coefficients.of(pk)["shelf_fraction"].value for pk in specs.tolist()])[which]


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
