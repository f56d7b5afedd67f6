"""Fittings as columns for the calculations, and as records for those who need their names and days."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields

import numpy as np

from fleet.models import Bow, CordSpec, Fitting, Site, SpecSheet
from service.columns import columns, indices_of
from service.instants import SECONDS_PER_DAY
from service.wear.arrays import Flags, Floats, Ints
from service.wear.coefficients import HOURS_PER_MONTH, Coefficient, Fibre, heat_weight
from service.wear.rows import CordRows

# More records than this are read through and picked from, instead of being asked for one by one.
MOST_NAMED = 5_000
NOON_S = SECONDS_PER_DAY / 2


@dataclass(frozen=True, eq=False)
class FittingRows:
    """One row per fitting, ordered by cord and time: ids, epoch seconds (nan: open, unknown), use before the book."""

    fitting: Ints
    cord: Ints
    bow: Ints
    spec: Ints
    fitted_s: Floats
    removed_s: Floats
    made_s: Floats
    prior_shots: Floats
    prior_tension_h: Floats
    prior_heat_h: Floats

    @property
    def is_fitted(self) -> Flags:
        """Which of them are on their bow now."""
        return np.isnan(self.removed_s)

    def picked(self, which: Flags | Ints) -> "FittingRows":
        """The chosen rows."""
        return FittingRows(*(getattr(self, field.name)[which] for field in fields(self)))


def fitted_now(bow_ids: list[int] | None) -> FittingRows:
    """The current fittings of some bows (None: all)."""
    if bow_ids is None or len(bow_ids) > MOST_NAMED:
        rows = _read(None)
        rows = rows.picked(rows.is_fitted)
        return rows if bow_ids is None else rows.picked(np.isin(rows.bow, bow_ids))
    return _read(Fitting.objects.filter(removed_at=None, bow__in=bow_ids).values_list("pk", flat=True))


def every_fitting(bow_ids: list[int] | None, *, removed_too: bool) -> FittingRows:
    """All fittings of every cord that is on these bows now: a cord's life follows it between bows.

    `removed_too`: of every cord that ever was on them.
    """
    if bow_ids is not None and len(bow_ids) <= MOST_NAMED:
        there = Fitting.objects.filter(bow__in=bow_ids)
        there = there if removed_too else there.filter(removed_at=None)
        cords = list(there.values_list("cord_id", flat=True))
        return _read(Fitting.objects.filter(cord__in=cords).values_list("pk", flat=True))
    rows = _read(None)
    there_now = np.ones(rows.cord.size, dtype=np.bool_) if removed_too else rows.is_fitted
    if bow_ids is not None:
        there_now = there_now & np.isin(rows.bow, bow_ids)
    return rows.picked(np.isin(rows.cord, rows.cord[there_now]))


def _read(ids: Iterable[int] | None) -> FittingRows:
    rows = Fitting.objects.all() if ids is None else Fitting.objects.filter(pk__in=list(ids))
    pk, cord, bow, spec, shots, tension_h, heat_h, fitted_s, removed_s, made_s = columns(
        rows,
        "pk",
        "cord_id",
        "bow_id",
        "cord__spec_id",
        "cord__prior_shots",
        "cord__prior_tension_h",
        "cord__prior_heat_h",
        fitted="fitted_at",
        removed="removed_at",
        made="cord__made_on",
    )
    order = np.lexsort((pk, fitted_s, cord))
    # Of the day on which a cord was made the hour is not known: noon.
    return FittingRows(
        pk[order].astype(np.int64),
        cord[order].astype(np.int64),
        bow[order].astype(np.int64),
        spec[order].astype(np.int64),
        *(column[order] for column in (fitted_s, removed_s, made_s + NOON_S, shots, tension_h, heat_h)),
    )


def cord_rows(
    rows: FittingRows, index: Mapping[int, int], table_of: "Mapping[int, Mapping[str, Coefficient]]"
) -> CordRows:
    """One row per fitting; use before the book counts on a cord's first fitting, shelf time from its last removal.

    `index` gives each bow's index, `table_of` the coefficients of each cord spec.
    """
    first = np.append(True, rows.cord[1:] != rows.cord[:-1])[: rows.cord.size]
    since = np.where(first, rows.made_s, np.append(np.nan, rows.removed_s[:-1])[: rows.cord.size])
    specs, which = np.unique(rows.spec, return_inverse=True)
    by_id = CordSpec.objects.in_bulk(specs.tolist())
    of_spec = np.array([_of_spec(by_id[pk], table_of[pk]) for pk in specs.tolist()], dtype=np.float64)
    rated_shots, rated_h, weight, energy, rated_n, exponent = of_spec.reshape(-1, 6)[which].T
    return CordRows(
        bow=indices_of(rows.bow, index),
        fitted_s=rows.fitted_s,
        removed_s=rows.removed_s,
        made_s=np.minimum(since, rows.fitted_s),
        rated_shots=rated_shots,
        rated_h=rated_h,
        heat_weight=weight,
        activation_energy_j_per_mol=energy,
        rated_peak_weight_n=rated_n,
        load_exponent=exponent,
        prior_shots=np.where(first, rows.prior_shots, 0.0),
        prior_tension_h=np.where(first, rows.prior_tension_h, 0.0),
        prior_heat_h=np.where(first, rows.prior_heat_h, 0.0),
    )


def _of_spec(spec: CordSpec, own: Mapping[str, Coefficient]) -> tuple[float, ...]:
    return (
        spec.rated_shots,
        spec.rated_months * HOURS_PER_MONTH,
        heat_weight(Fibre(spec.fibre), own).value,
        own["activation_energy"].value,
        # Without a rated peak weight every shot counts as one.
        spec.rated_peak_weight_n or 1.0,
        own["load_exponent"].value if spec.rated_peak_weight_n else 0.0,
    )


def records_of(rows: FittingRows) -> list[Fitting]:
    """The fittings themselves, each with its cord and bow; bows, sites and specs are read once and shared."""
    ids = rows.fitting.tolist()
    few = len(ids) <= MOST_NAMED
    fittings = Fitting.objects.select_related("cord").order_by()
    by_id = {one.pk: one for one in (fittings.filter(pk__in=ids) if few else fittings)}
    bow_ids = set(rows.bow.tolist())
    bows = {bow.pk: bow for bow in (Bow.objects.filter(pk__in=bow_ids) if few else Bow.objects.all())}
    sites, sheets = Site.objects.in_bulk({bow.site_id for bow in bows.values()}), SpecSheet.objects.in_bulk()
    specs = CordSpec.objects.in_bulk()
    for bow in bows.values():
        bow.site, bow.spec_sheet = sites[bow.site_id], sheets[bow.spec_sheet_id]
    found = [by_id[pk] for pk in ids]
    for fitting in found:
        fitting.bow, fitting.cord.spec = bows[fitting.bow_id], specs[fitting.cord.spec_id]
    return found
