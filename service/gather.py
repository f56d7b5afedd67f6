"""Register rows -> the columns that the pure calculations take. Reads only; every read is one query per kind of row.

Bows and places become indices in the order in which they are read. What is asked for is a set of bows (or all), so a
rebuild of the fleet and the refresh of one bow are the same code.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
from django.db.models import Q, QuerySet

from fleet.models import (
    Bow,
    CoefficientSetting,
    Fitting,
    Place,
    Relaxation,
    SetUp,
    Shots,
    Site,
    Stay,
    TemperatureReading,
    VehicleParking,
)
from fleet.record.usage import LONGEST_ENTRY
from fleet.vocabulary import TemperatureSource
from service.columns import columns, indices_of
from service.instants import SECONDS_PER_DAY, epoch_s
from service.wear.arrays import Floats, Ints
from service.wear.coefficients import DEFAULTS, HOURS_PER_MONTH, Coefficient, Fibre, Label, heat_weight
from service.wear.exposure import PlaceHeats
from service.wear.heat import HeatScale, PlaceHeat
from service.wear.rows import CordRows, FleetRows, ParkingRows, ShotRows, SlackRows, StayRows


@dataclass(frozen=True)
class Coefficients:
    """The coefficients in force: the house's, and those of single cord specs."""

    house: Mapping[str, Coefficient]
    by_spec: Mapping[int, Mapping[str, Coefficient]]

    def of(self, cord_spec_id: int) -> Mapping[str, Coefficient]:
        """The table of one cord spec."""
        return self.by_spec.get(cord_spec_id, self.house)


@dataclass(frozen=True)
class Gathered:
    """The columns of some bows, with what each index stands for."""

    rows: FleetRows
    fittings: list[Fitting]
    bows: list[Bow]
    place_heats: PlaceHeats
    peak_weight_n: Floats
    """What each bow is set to by its latest set-up on record; nan: never recorded."""
    coefficients: Coefficients


def coefficients() -> Coefficients:
    """Defaults, overlaid by the house's settings, overlaid by a cord spec's own."""
    house = dict(DEFAULTS)
    by_spec: dict[int, dict[str, Coefficient]] = {}
    current = CoefficientSetting.objects.filter(superseded_at=None).order_by("cord_spec_id")
    for setting in sorted(current, key=lambda one: one.cord_spec_id is not None):
        table = house if setting.cord_spec_id is None else by_spec.setdefault(setting.cord_spec_id, dict(house))
        table[setting.name] = DEFAULTS[setting.name].with_value(setting.value, setting.source, Label(setting.label))
    return Coefficients(house, by_spec)


@dataclass(frozen=True)
class Since:
    """Only what can wear a cord after these instants (epoch s): shots after one, time and heat after the other."""

    shots_s: float
    heat_s: float


def gather(bow_ids: Iterable[int] | None, *, removed_too: bool = False, since: Since | None = None) -> Gathered:
    """Everything that wears the cords fitted on these bows (None: on all).

    `removed_too`: every cord there ever was. `since`: only the current fittings, and only what is new to them.
    """
    fittings = _fittings(bow_ids, removed_too) if since is None else _fitted_now(bow_ids)
    chosen = None if bow_ids is None else sorted({*bow_ids, *(fitting.bow_id for fitting in fittings)})
    bows = list(_of(Bow.objects.select_related("site", "spec_sheet").order_by("pk"), "pk", chosen))
    table = coefficients()
    index = {bow.pk: i for i, bow in enumerate(bows)}
    stays = columns(
        _after(_of(Stay.objects.all(), "bow", chosen), since), "bow_id", "place_id", start="start", end="end"
    )
    sites = list(Site.objects.order_by("pk"))
    site_index = {site.pk: i for i, site in enumerate(sites)}
    places = list(Place.objects.select_related("site").order_by("pk"))
    if chosen is not None:
        here = set(stays[1].astype(np.int64).tolist())
        places = [place for place in places if place.pk in here]
    place_index = {place.pk: len(sites) + i for i, place in enumerate(places)}
    cords = _cord_rows(fittings, index, table)
    rows = FleetRows(
        cords=cords,
        shots=_shot_rows(chosen, index, since),
        stays=StayRows(
            bow=indices_of(stays[0], index), place=indices_of(stays[1], place_index), start_s=stays[2], end_s=stays[3]
        ),
        parkings=_parking_rows(chosen, index, since),
        slacks=_slack_rows(chosen, index, since),
        default_place=np.array([site_index[bow.site_id] for bow in bows], dtype=np.int64),
    )
    energies = np.unique(cords.activation_energy_j_per_mol).tolist()
    heats = _place_heats(sites, places, energies, table.house, since)
    latest = np.full(len(bows), np.inf)
    weights = _weights_at(np.arange(len(bows)), latest, chosen, index)
    return Gathered(rows, fittings, bows, heats, weights, table)


def shot_rows_of(entries: Sequence[Shots], bows: Sequence[Bow]) -> ShotRows:
    """Single entries as columns, the bows by their place in `bows`."""
    index = {bow.pk: i for i, bow in enumerate(bows)}
    of = np.array([index[entry.bow_id] for entry in entries], dtype=np.int64)
    start = np.array([epoch_s(entry.start) for entry in entries], dtype=np.float64)
    end = np.array([epoch_s(entry.end) for entry in entries], dtype=np.float64)
    count = np.array([entry.count for entry in entries], dtype=np.float64)
    return ShotRows(of, start, end, count, _weights_at(of, start, list(index), index))


def _after(rows: QuerySet[Any], since: Since | None) -> QuerySet[Any]:
    """Intervals that reach beyond the instant from which heat counts."""
    if since is None:
        return rows
    return rows.filter(Q(end=None) | Q(end__gt=datetime.fromtimestamp(since.heat_s, UTC)))


def _place_heats(
    sites: list[Site],
    places: list[Place],
    energies: list[float],
    house: Mapping[str, Coefficient],
    since: Since | None,
) -> dict[float, dict[int, PlaceHeat]]:
    """Each place integrated once for each activation energy in use; the sites' assumed temperatures come first."""
    scales = {energy: HeatScale(energy, house["reference_temperature"].value) for energy in energies}
    heats: dict[float, dict[int, PlaceHeat]] = {energy: {} for energy in energies}
    for energy, scale in scales.items():
        for at, site in enumerate(sites):
            heats[energy][at] = PlaceHeat.fixed(site.indoor_temperature_c, scale)
    for at, place in enumerate(places, start=len(sites)):
        readings = _readings(place, since)
        for energy, scale in scales.items():
            heats[energy][at] = _place_heat(place, readings, scale, house["max_bridged_gap"].value)
    return heats


def _readings(place: Place, since: Since | None) -> tuple[Floats, Floats]:
    rows = TemperatureReading.objects.filter(place=place)
    if since is not None:
        # A reading older than any bridged gap says nothing of what follows.
        rows = rows.filter(at__gte=datetime.fromtimestamp(since.heat_s - SECONDS_PER_DAY, UTC))
    celsius, times = columns(rows, "celsius", at="at")
    return times, celsius


def _place_heat(place: Place, readings: tuple[Floats, Floats], scale: HeatScale, max_gap_h: float) -> PlaceHeat:
    """A place's cumulative heat: from its logger, or from its fixed temperature.

    A vehicle as a place reads like a logger: the readings are its cabin's; a stay in one that was only guessed from
    the outside temperature is recorded as a parking.
    """
    if place.temperature_source == TemperatureSource.FIXED and place.fixed_temperature_c is not None:
        return PlaceHeat.fixed(place.fixed_temperature_c, scale)
    return PlaceHeat.from_readings(*readings, place.site.indoor_temperature_c, scale, max_gap_h)


def _of(rows: QuerySet[Any], field: str, chosen: list[int] | None) -> QuerySet[Any]:
    return rows if chosen is None else rows.filter(**{f"{field}__in": chosen})


def _fittings(bow_ids: Iterable[int] | None, removed_too: bool) -> list[Fitting]:
    """All fittings of every cord that is on these bows now: a cord's life follows it between bows."""
    on_now = Fitting.objects.all() if removed_too else Fitting.objects.filter(removed_at=None)
    if bow_ids is not None:
        on_now = on_now.filter(bow__in=list(bow_ids))
    rows = Fitting.objects.select_related("cord__spec", "bow__site", "bow__spec_sheet").filter(
        cord__in=on_now.values("cord")
    )
    return list(rows.order_by("cord_id", "fitted_at"))


def _fitted_now(bow_ids: Iterable[int] | None) -> list[Fitting]:
    rows = Fitting.objects.filter(removed_at=None)
    if bow_ids is not None:
        rows = rows.filter(bow__in=list(bow_ids))
    return list(rows.select_related("cord__spec", "bow__site", "bow__spec_sheet").order_by("cord_id"))


def _cord_rows(fittings: list[Fitting], index: Mapping[int, int], table: Coefficients) -> CordRows:
    """One row per fitting; use before the book counts on a cord's first fitting, shelf time from its last removal."""
    previous: Fitting | None = None
    records = []
    for fitting in fittings:
        cord, spec = fitting.cord, fitting.cord.spec
        first = previous is None or previous.cord_id != cord.pk
        made = epoch_s_of_day(cord.made_on) if first else epoch_s(previous.removed_at if previous else None)
        own = table.of(spec.pk)
        fitted = epoch_s(fitting.fitted_at)
        records.append(
            (
                index[fitting.bow_id],
                fitted,
                epoch_s(fitting.removed_at),
                min(made, fitted) if made == made else made,
                spec.rated_shots,
                spec.rated_months * HOURS_PER_MONTH,
                heat_weight(Fibre(spec.fibre), own).value,
                own["activation_energy"].value,
                # Without a rated peak weight every shot counts as one.
                spec.rated_peak_weight_n or 1.0,
                own["load_exponent"].value if spec.rated_peak_weight_n else 0.0,
                cord.prior_shots if first else 0.0,
                cord.prior_tension_h if first else 0.0,
                cord.prior_heat_h if first else 0.0,
            )
        )
        previous = fitting
    columns = np.array(records, dtype=np.float64).reshape(-1, 13).T
    return CordRows(columns[0].astype(np.int64), *columns[1:])


def epoch_s_of_day(day: date | None) -> float:
    """Noon UTC of a calendar day as epoch seconds: the day is known, the hour is not; nan for none."""
    return float("nan") if day is None else epoch_s(datetime(day.year, day.month, day.day, 12, tzinfo=UTC))


def _shot_rows(chosen: list[int] | None, index: Mapping[int, int], since: Since | None) -> ShotRows:
    rows = _of(Shots.objects.filter(superseded_at=None), "bow", chosen)
    if since is not None:
        # The longest entry bounds how far back one can begin that reaches beyond the instant: the index is on start.
        earliest = datetime.fromtimestamp(since.shots_s, UTC) - LONGEST_ENTRY
        rows = rows.filter(start__gte=earliest, end__gt=datetime.fromtimestamp(since.shots_s, UTC))
    bow, count, start, end = columns(rows, "bow_id", "count", start="start", end="end")
    of = indices_of(bow, index)
    return ShotRows(of, start, end, count, _weights_at(of, start, chosen, index))


def _weights_at(bow: Ints, moment_s: Floats, chosen: list[int] | None, index: Mapping[int, int]) -> Floats:
    """Peak weight (N) that each bow was set to at an instant (inf: the latest); nan before its first set-up."""
    tag, weight, since = columns(_of(SetUp.objects.all(), "bow", chosen), "bow_id", "peak_weight_n", since="since")
    if not tag.size:
        return np.full(moment_s.size, np.nan)
    owner = indices_of(tag, index)
    order = np.lexsort((since, owner))
    owner, since, weight = owner[order], since[order], weight[order]
    # One search over (bow, instant): each bow's instants lie in a stretch of their own, as long as all of them.
    origin, span = float(since.min()) - 1.0, float(np.ptp(since)) + 2.0
    at = np.searchsorted(
        owner * span + (since - origin), bow * span + np.clip(moment_s - origin, 0.0, span - 1.0), side="right"
    )
    found = (at > 0) & (owner[np.maximum(at - 1, 0)] == bow)
    return np.where(found, weight[np.maximum(at - 1, 0)], np.nan)


def _parking_rows(chosen: list[int] | None, index: Mapping[int, int], since: Since | None) -> ParkingRows:
    rows = _after(_of(VehicleParking.objects.all(), "bow", chosen), since)
    fields = columns(rows, "bow_id", "outside_c", "cabin_c", "shade", "boot", start="start", end="end")
    bow, outside, cabin, shade, boot, start, end = fields
    flags = (shade.astype(np.bool_), boot.astype(np.bool_))
    return ParkingRows(indices_of(bow, index), start, end, outside, cabin, *flags)


def _slack_rows(chosen: list[int] | None, index: Mapping[int, int], since: Since | None) -> SlackRows:
    rows = _after(_of(Relaxation.objects.all(), "bow", chosen), since)
    bow, start, end = columns(rows, "bow_id", start="start", end="end")
    return SlackRows(indices_of(bow, index), start, end)
