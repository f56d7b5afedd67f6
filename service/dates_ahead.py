"""The 10/50/90 % dates: each fitted cord at its replacement point, each measurement leaving its tolerance."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from fleet.models import Bow, ReferenceMeasurement, Site
from fleet.vocabulary import Dimension, dimension_of
from service.bow_geometry import geometry_of
from service.cord_lives import CordLives, shot_weight
from service.forecast.passage import LifeAhead, PassageDays, replacement_days, tolerance_days
from service.instants import day_of
from service.models import TimingDrift
from service.timing.kinematics import DriftMatrix, drift_matrix
from service.use_ahead import use_ahead
from service.wear.arrays import Floats, Ints
from service.wear.stretch import StretchCoefficients, strain_since_reset

HORIZON_DAYS = 731
# A timing check is looked for a year ahead, week by week: no tolerance is worth a finer date so far off.
DRIFT_WEEKS = 52
DAYS_PER_WEEK = 7
SOME_BOWS = 500


@dataclass(frozen=True)
class Bounds:
    """The day reached with 10, 50 and 90 % probability; None = beyond the horizon."""

    early: date | None
    middle: date | None
    late: date | None


def _bounds(days: PassageDays, today: list[date]) -> list[Bounds]:
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
    house = lives.rows.coefficients.house
    cords = lives.cords
    weight = shot_weight(lives.rows, cords)[rows]
    life = LifeAhead(
        bow=np.array([index[fitting.bow_id] for fitting in fittings], dtype=np.int64),
        from_shots=lives.life.shots[rows],
        from_time=np.maximum(by_time[rows], 0.0),
        per_shot=weight / cords.rated_shots[rows],
        time_ahead=np.maximum(per_day[rows], 0.0)[:, None] * ahead,
        shot_log_sd=house["shot_wear_log_sd"].value,
        time_log_sd=house["time_wear_log_sd"].value,
        threshold=points[rows],
    )
    days = replacement_days(life, use_ahead(site, list(bows.values()), today, HORIZON_DAYS))
    return _bounds(days, [today] * len(fittings))


@dataclass(frozen=True, eq=False)
class Stretching:
    """Strain of each cord since its reset, and what creep adds a day."""

    strain: Floats
    creep_per_day: Floats
    settle_ahead: Floats
    creep_ahead: Floats


def stretching(lives: CordLives) -> Stretching:
    """Stretch of each cord now, and by settle-in and by creep week by week over a year, (cords, weeks + 1)."""
    days = np.arange(DRIFT_WEEKS + 1, dtype=np.float64) * DAYS_PER_WEEK
    tables = [lives.rows.coefficients.of(f.cord.spec_id) for f in lives.fittings]
    creep = np.array([t["creep_rate"].value for t in tables])
    shots, heat = lives.total.weighted_shots, lives.total.heat_h
    shots0, heat0 = lives.at_reset.weighted_shots, lives.at_reset.heat_h
    settle_only = StretchCoefficients(
        lives.rows.coefficients.house["settle_in_strain"].value,
        lives.rows.coefficients.house["settle_in_shots_constant"].value,
        0.0,
    )
    creep_only = StretchCoefficients(0.0, settle_only.settle_in_shots_constant, 1.0)
    phi = lives.cords.heat_weight
    # Rounding may leave a sum a hair below its own part.
    shots, heat = np.maximum(shots, shots0), np.maximum(heat, heat0)

    def settle(at: Floats, then: Floats) -> Floats:
        return strain_since_reset(at, np.zeros_like(at), then, np.zeros_like(then), 0.0, settle_only)

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


@dataclass(frozen=True, eq=False)
class _Drift:
    """One measurement of one bow: its row to save, and its deviation ahead by settle-in and by creep (weeks,)."""

    row: TimingDrift
    settle: Floats
    creep: Floats


def timing_drifts(lives: CordLives, stretch: Stretching, now: datetime) -> list[TimingDrift]:
    """For each bow and reference measurement that the kinematics know: its change now and when it leaves tolerance."""
    cords_of: dict[int, dict[str, int]] = defaultdict(dict)
    for i, fitting in enumerate(lives.fittings):
        cords_of[fitting.bow_id][fitting.position] = i
    bows = {fitting.bow_id: fitting.bow for fitting in lives.fittings}
    tolerances = _tolerances(list(bows))
    responses: dict[int, tuple[DriftMatrix, bool]] = {}
    found: list[_Drift] = []
    for bow_id, bow in bows.items():
        if bow.spec_sheet_id not in responses:
            geometry = geometry_of(bow.spec_sheet)
            responses[bow.spec_sheet_id] = (drift_matrix(geometry), bool(geometry.assumed_names()))
        found += _drifts_of(bow, responses[bow.spec_sheet_id], cords_of[bow_id], tolerances, lives, stretch)
    if found:
        _date(found, lives.rows.coefficients.house["creep_log_sd"].value, now)
    return [one.row for one in found]


def _drifts_of(
    bow: Bow,
    response: tuple[DriftMatrix, bool],
    cords: dict[str, int],
    tolerances: dict[tuple[int, str], float],
    lives: CordLives,
    stretch: Stretching,
) -> list[_Drift]:
    matrix, assumed = response
    found = []
    for k, kind in enumerate(matrix.kinds):
        tolerance = tolerances.get((bow.pk, kind))
        # A strain of a cord (m/m) times its length is its stretch; times the response it moves the measurement.
        gain = [
            (float(matrix.matrix[k, column]) * lives.fittings[cords[position]].cord.spec.length_m, cords[position])
            for column, position in enumerate(matrix.positions)
            if position in cords
        ]
        if tolerance is None or not gain:
            continue
        change = sum(by * float(stretch.strain[row]) for by, row in gain)
        row = TimingDrift(bow=bow, kind=kind, change_m=change, tolerance_m=tolerance, rests_on_assumed=assumed)
        found.append(_Drift(row, _moved(gain, stretch.settle_ahead), _moved(gain, stretch.creep_ahead)))
    return found


def _moved(gain: list[tuple[float, int]], strain: Floats) -> Floats:
    """Size of the deviation week by week; never falling, for a deviation that comes back has been out already."""
    total = np.zeros(strain.shape[1])
    for by, row in gain:
        total = total + by * strain[row]
    return np.maximum.accumulate(np.abs(total))


def _date(found: list[_Drift], creep_log_sd: float, now: datetime) -> None:
    weeks = tolerance_days(
        np.array([one.settle for one in found]),
        np.array([one.creep for one in found]),
        np.full(len(found), creep_log_sd),
        np.array([one.row.tolerance_m for one in found]),
    )
    days = PassageDays(weeks.p10 * DAYS_PER_WEEK, weeks.p50 * DAYS_PER_WEEK, weeks.p90 * DAYS_PER_WEEK)
    today = [day_of(now, one.row.bow.site.time_zone) for one in found]
    for one, bounds in zip(found, _bounds(days, today), strict=True):
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
