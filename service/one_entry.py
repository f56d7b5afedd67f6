"""One entry of shots came or went: add its own contribution to what is saved, however long the bow's history.

Totals are additive over entries and over time, so the new ones are: what was saved as of the last computation, the
window since then, and the entries' shares before it. A test holds this equal to a rebuild to 1e-9.
"""

from dataclasses import replace
from datetime import datetime

import numpy as np

from fleet.models import Fitting, Shots, SignedResult
from service.cord_lives import RATE_DAYS, CordLives, with_rates
from service.exposures import heat_exposure_of
from service.gather import Gathered, Since, gather, shot_rows_of
from service.instants import SECONDS_PER_DAY, epoch_s
from service.learned_creep import CreepBelief, prior_creep
from service.models import CordWear
from service.wear.arrays import Floats
from service.wear.exposure import Exposure
from service.wear.rows import CordRows
from service.wear.shot_exposure import weighted_shots


def lives_after(bow_id: int, added: list[Shots], struck: list[Shots], now: datetime) -> CordLives | None:
    """The bow's cords as of `now`, or None where what is saved is no base: then the bow is computed anew."""
    saved = list(CordWear.objects.filter(fitting__bow=bow_id, fitting__removed_at=None).select_related("fitting"))
    instants = {wear.as_of for wear in saved}
    if len(instants) != 1:
        return None
    then_s, now_s = epoch_s(instants.pop()), epoch_s(now)
    if then_s > now_s:
        return None
    rows = gather([bow_id], since=Since(then_s, min(then_s, now_s - RATE_DAYS * SECONDS_PER_DAY)))
    by_fitting = {wear.fitting_id: wear for wear in saved}
    if set(rows.keys.fitting.tolist()) != set(by_fitting):
        return None
    if Fitting.objects.filter(bow=bow_id, cord__in=rows.keys.cord.tolist()).exclude(removed_at=None).exists():
        # A cord that came back to this bow: the entry may belong to the first time that it was on it.
        return None
    wears = [by_fitting[pk] for pk in rows.keys.fitting.tolist()]
    if _teaches_creep(bow_id, wears, [*added, *struck]):
        return None
    cords = rows.rows.cords
    resets = np.array([epoch_s(wear.reset_at) for wear in wears])
    # A clock that runs a little fast may have dated a fitting or a reset after that computation: it was cut off there.
    if np.any(cords.fitted_s > then_s) or np.any(resets >= then_s):
        return None
    came = _until(rows, cords, added, then_s) - _until(rows, cords, struck, then_s)
    since_then = weighted_shots(cords, rows.rows.shots, now_s, then_s)
    heat = heat_exposure_of(rows, cords, now_s, then_s)
    total = Exposure(
        _column(wears, "shots_weighted") + came + since_then,
        _column(wears, "tension_h") + heat.tension_h,
        _column(wears, "shelf_h") + heat.shelf_h,
        _column(wears, "heat_h") + heat.heat_h,
        np.fmax(np.array([np.nan if w.hottest_c is None else w.hottest_c for w in wears]), heat.max_temperature_c),
    )
    # Entries before a reset count for what the cord had then.
    reset_shots = _column(wears, "reset_shots") + _before_reset(rows, cords, added, struck, resets)
    at_reset = Exposure(reset_shots, total.tension_h, total.shelf_h, _column(wears, "reset_heat_h"), heat.heat_h)
    return with_rates(rows, np.arange(len(wears)), total, at_reset, resets, _creep(rows, wears), now)


def _teaches_creep(bow_id: int, wears: list[CordWear], entries: list[Shots]) -> bool:
    """Whether what the bench signed was dated after the last computation, or an entry began before it.

    Such an entry may have settled a cord whose creep was learned from the change that the bench found.
    """
    last = SignedResult.objects.filter(bow=bow_id).order_by("-signed_at").values_list("signed_at", flat=True).first()
    if last is None:
        return False
    taught = any(wear.creep_pairs for wear in wears)
    return last > wears[0].as_of or (taught and any(entry.start < last for entry in entries))


def _creep(rows: Gathered, wears: list[CordWear]) -> CreepBelief:
    """What was learned of the cords' creep stands: no signed result came with an entry of shots."""
    prior = prior_creep(rows, np.arange(len(wears)))
    pairs = np.array([wear.creep_pairs for wear in wears], dtype=np.int64)
    per_month = np.where(pairs > 0, _column(wears, "creep_per_month"), prior.per_month)
    return CreepBelief(
        per_month, np.where(pairs > 0, _column(wears, "creep_log_sd"), prior.log_sd), prior.prior_log_sd, pairs
    )


def _column(wears: list[CordWear], name: str) -> Floats:
    return np.array([getattr(wear, name) for wear in wears], dtype=np.float64)


def _until(rows: Gathered, cords: CordRows, entries: list[Shots], until_s: float) -> Floats:
    if not entries:
        return np.zeros(cords.bow.size)
    return weighted_shots(cords, shot_rows_of(entries, rows.bow_index), until_s)


def _before_reset(rows: Gathered, cords: CordRows, added: list[Shots], struck: list[Shots], resets: Floats) -> Floats:
    """The state at a reset is that of a cord taken off then, as the full computation has it."""
    taken_off = replace(cords, removed_s=np.maximum(resets, cords.fitted_s))
    return _until(rows, taken_off, added, np.inf) - _until(rows, taken_off, struck, np.inf)
