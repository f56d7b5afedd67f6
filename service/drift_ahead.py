"""Predicted timing drift: the stretch of the cords, through the timing model, to the day a measurement is out."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

import numpy as np

from fleet.models import Bow, ReferenceMeasurement
from fleet.vocabulary import Dimension, dimension_of
from service.bow_geometry import geometry_of, own_arms
from service.cord_lives import CordLives
from service.dates_ahead import bounds_of
from service.forecast.passage import PassageDays, tolerance_days
from service.instants import day_of
from service.models import TimingDrift
from service.timing.geometry import Geometry
from service.timing.kinematics import DriftMatrix, drift_matrix, kinds_on_assumed
from service.timing.vocabulary import MeasurementKind
from service.wear.arrays import Floats, Ints
from service.wear.coefficients import DEFAULTS, Label
from service.wear.stretch import StretchCoefficients, strain_since_reset, stretch_m

# A timing check is looked for a year ahead, week by week: no tolerance is worth a finer date so far off.
DRIFT_WEEKS = 52
DAYS_PER_WEEK = 7
SOME_BOWS = 500
ARMS = "arms"


@dataclass(frozen=True, eq=False)
class Stretching:
    """Strain of each cord since its reset, and what creep adds a day; ahead week by week, (cords, weeks + 1)."""

    strain: Floats
    creep_per_day: Floats
    settle_ahead: Floats
    creep_ahead: Floats


def stretching(lives: CordLives) -> Stretching:
    """Stretch of each cord now, and by settle-in and by creep week by week over a year, by its own creep rate."""
    days = np.arange(DRIFT_WEEKS + 1, dtype=np.float64) * DAYS_PER_WEEK
    creep = lives.creep.per_month
    shots, heat = lives.total.weighted_shots, lives.total.heat_h
    shots0, heat0 = lives.at_reset.weighted_shots, lives.at_reset.heat_h
    settling = _settling(lives)
    creep_only = StretchCoefficients(0.0, DEFAULTS["settle_in_shots_constant"].value, 1.0)
    phi = lives.cords.heat_weight
    # Rounding may leave a sum a hair below its own part.
    shots, heat = np.maximum(shots, shots0), np.maximum(heat, heat0)

    def settle(at: Floats, then: Floats) -> Floats:
        strain = np.zeros_like(at)
        for coefficients, rows in settling:
            none = np.zeros_like(at[rows])
            strain[rows] = strain_since_reset(at[rows], none, then[rows], none, 0.0, coefficients)
        return strain

    def creeps(at: Floats, then: Floats, weight: Floats) -> Floats:
        return strain_since_reset(np.zeros_like(at), at, np.zeros_like(then), then, weight, creep_only)

    settled, crept = settle(shots, shots0), creep * creeps(heat, heat0, phi)
    shots_ahead = shots[:, None] + lives.shots_per_day[:, None] * days
    heat_ahead = heat[:, None] + lives.heat_h_per_day[:, None] * days
    return Stretching(
        strain=settled + crept,
        creep_per_day=creep * creeps(lives.heat_h_per_day, np.zeros_like(heat), phi),
        settle_ahead=settle(shots_ahead, np.broadcast_to(shots0[:, None], shots_ahead.shape)),
        creep_ahead=creep[:, None]
        * creeps(heat_ahead, np.broadcast_to(heat0[:, None], heat_ahead.shape), phi[:, None]),
    )


def _settling(lives: CordLives) -> list[tuple[StretchCoefficients, Ints]]:
    """How cords settle in, and the rows of those that do so: one entry per pair of coefficients in force."""
    rows_of: dict[tuple[float, float], list[int]] = defaultdict(list)
    for row, spec in enumerate(lives.rows.keys.spec[lives.fitted].tolist()):
        table = lives.rows.coefficients.of(spec)
        rows_of[table["settle_in_strain"].value, table["settle_in_shots_constant"].value].append(row)
    return [(StretchCoefficients(*pair, 0.0), np.array(rows, dtype=np.int64)) for pair, rows in rows_of.items()]


@dataclass(frozen=True, eq=False)
class BowResponse:
    """How one bow's measurements follow its cords, n of them fitted and known to the kinematics.

    `cords`: their rows in the lives. `gain` (kinds, n): change of each measurement (m) per strain (m/m) of each cord.
    `on_assumed`: the kinds that an arm moves which nobody measured.
    """

    kinds: tuple[MeasurementKind, ...]
    on_assumed: frozenset[MeasurementKind]
    cords: Ints
    gain: Floats

    def changes(self, strain: Floats) -> Floats:
        """The change (m) of every measurement from the strains of all cords: (cords, ...) -> (kinds, ...)."""
        found: Floats = np.tensordot(self.gain, strain[self.cords], axes=1)
        return found


def response_of(geometry: Geometry, lives: CordLives, cords: dict[str, int]) -> BowResponse:
    """The response of a bow whose cords lie at these rows, by position; a position without a cord does not stretch."""
    drift, on_assumed = _known_response(geometry)
    there = [(column, cords[position]) for column, position in enumerate(drift.positions) if position in cords]
    columns = [column for column, _ in there]
    rows = np.array([row for _, row in there], dtype=np.int64)
    lengths = np.array([lives.fittings[row].cord.spec.length_m for row in rows.tolist()], dtype=np.float64)
    return BowResponse(drift.kinds, on_assumed, rows, drift.matrix[:, columns] * stretch_m(1.0, lengths))


@lru_cache(maxsize=1_000)
def _known_response(geometry: Geometry) -> tuple[DriftMatrix, frozenset[MeasurementKind]]:
    return drift_matrix(geometry), kinds_on_assumed(geometry)


@dataclass(frozen=True, eq=False)
class _Drift:
    """One measurement of one bow: its row to save, its deviation ahead by settle-in and by creep (weeks,), the spread
    of the logarithm of the creep's factor."""

    row: TimingDrift
    settle: Floats
    creep: Floats
    log_sd: float


def timing_drifts(lives: CordLives, stretch: Stretching, now: datetime) -> list[TimingDrift]:
    """For each bow and reference measurement that the kinematics know: its change now and when it leaves tolerance."""
    cords_of: dict[int, dict[str, int]] = defaultdict(dict)
    for i, fitting in enumerate(lives.fittings):
        cords_of[fitting.bow_id][fitting.position] = i
    bows = {fitting.bow_id: fitting.bow for fitting in lives.fittings}
    tolerances = _tolerances(list(bows))
    own = own_arms(bows if len(bows) < SOME_BOWS else None)
    of_sheet: dict[int, Geometry] = {}
    found: list[_Drift] = []
    for bow_id, bow in bows.items():
        if bow_id in own:
            geometry = geometry_of(bow.spec_sheet, own[bow_id])
        else:
            geometry = of_sheet.get(bow.spec_sheet_id) or geometry_of(bow.spec_sheet)
            of_sheet[bow.spec_sheet_id] = geometry
        response = response_of(geometry, lives, cords_of[bow_id])
        found += _drifts_of(bow, response, tolerances, lives, stretch)
    if found:
        _date(found, now)
    return [one.row for one in found]


def assumed_of_stretch(lives: CordLives, stretch: Stretching, cords: Ints) -> list[str]:
    """The coefficients behind the stretch of these cords that nobody has published, measured or learned yet."""
    own, names = lives.creep.own_leads, set()
    for row in cords.tolist():
        table = lives.rows.coefficients.of(lives.fittings[row].cord.spec_id)
        if not own[row] and table["creep_rate"].label is Label.ASSUMED:
            names.add("creep_rate")
        settles = stretch.settle_ahead[row, -1] > 0.1 * stretch.creep_ahead[row, -1]
        if settles and table["settle_in_strain"].label is Label.ASSUMED:
            names.add("settle_in_strain")
    return sorted(names)


def _drifts_of(
    bow: Bow,
    response: BowResponse,
    tolerances: dict[tuple[int, str], float],
    lives: CordLives,
    stretch: Stretching,
) -> list[_Drift]:
    if not response.cords.size:
        return []
    changes = response.changes(stretch.strain)
    settle, creep = response.changes(stretch.settle_ahead), response.changes(stretch.creep_ahead)
    by_stretch = assumed_of_stretch(lives, stretch, response.cords)
    found = []
    for k, kind in enumerate(response.kinds):
        tolerance = tolerances.get((bow.pk, kind))
        if tolerance is None:
            continue
        assumed = [ARMS, *by_stretch] if kind in response.on_assumed else by_stretch
        row = TimingDrift(bow=bow, kind=kind, change_m=float(changes[k]), tolerance_m=tolerance, assumed=assumed)
        spread = _log_sd(lives, response.cords, response.gain[k] * stretch.creep_ahead[response.cords, -1])
        found.append(_Drift(row, _size(settle[k]), _size(creep[k]), spread))
    return found


def _size(deviation: Floats) -> Floats:
    """Size of the deviation week by week; never falling, for a deviation that comes back has been out already."""
    grown: Floats = np.maximum.accumulate(np.abs(deviation))
    return grown


def _log_sd(lives: CordLives, cords: Ints, parts: Floats) -> float:
    """Spread of the logarithm of the factor on a deviation of which each cord's creep makes `parts`.

    Cords without pairs share what is not known of their coefficient; what was learned of a cord is its own. To first
    order in the spreads; where cords nearly cancel, no more than the widest that a house may set.
    """
    total, own = float(np.sum(parts)), lives.creep.pairs[cords] > 0
    if total == 0.0:
        return float(np.max(lives.creep.log_sd[cords]))
    spreads = parts / total * lives.creep.log_sd[cords]
    together = float(np.hypot(np.sum(spreads[~own]), np.linalg.norm(spreads[own])))
    return min(max(together, DEFAULTS["creep_log_sd"].low), DEFAULTS["creep_log_sd"].high)


def _date(found: list[_Drift], now: datetime) -> None:
    weeks = tolerance_days(
        np.array([one.settle for one in found]),
        np.array([one.creep for one in found]),
        np.array([one.log_sd for one in found]),
        np.array([one.row.tolerance_m for one in found]),
    )
    days = PassageDays(weeks.p10 * DAYS_PER_WEEK, weeks.p50 * DAYS_PER_WEEK, weeks.p90 * DAYS_PER_WEEK)
    today = [day_of(now, one.row.bow.site.time_zone) for one in found]
    for one, bounds in zip(found, bounds_of(days, today), strict=True):
        one.row.leaves_from, one.row.leaves_on, one.row.leaves_until = bounds.early, bounds.middle, bounds.late


def _tolerances(bow_ids: list[int]) -> dict[tuple[int, str], float]:
    rows = ReferenceMeasurement.objects.filter(reference_set__current=True, tolerance__gt=0)
    if len(bow_ids) < SOME_BOWS:
        rows = rows.filter(reference_set__bow__in=bow_ids)
    return {
        (bow, kind): tolerance
        for bow, kind, tolerance in rows.values_list("reference_set__bow_id", "kind", "tolerance")
        if dimension_of(kind) == Dimension.LENGTH
    }
