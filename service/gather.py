"""Register rows -> the columns that the pure calculations take. Reads only; every read is one query per kind of row.

Bows and places become indices in the order in which they are read. What is asked for is a set of bows (or all), so a
rebuild of the fleet and the refresh of one bow are the same code.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
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
    VehicleParking,
)
from fleet.record.usage import LONGEST_ENTRY
from fleet.vocabulary import TemperatureSource
from service.columns import columns, indices_of
from service.fitted import MOST_NAMED, FittingRows, cord_rows, every_fitting, fitted_now, records_of
from service.instants import epoch_s
from service.place_readings import NO_READINGS, Readings, Stretch, readings_for, readings_of
from service.wear.arrays import Floats, Ints, arrival_order
from service.wear.coefficients import DEFAULTS, Coefficient, Label
from service.wear.exposure import PlaceHeats
from service.wear.heat import HeatScale, PlaceHeat
from service.wear.rows import FleetRows, ParkingRows, ShotRows, SlackRows, StayRows

# More stays than this are those of a fleet, whose places are read whole.
MOST_STRETCHES = 1_000


@dataclass(frozen=True)
class Coefficients:
    """The coefficients in force: the house's, and those of single cord specs."""

    house: Mapping[str, Coefficient]
    by_spec: Mapping[int, Mapping[str, Coefficient]]

    def of(self, cord_spec_id: int) -> Mapping[str, Coefficient]:
        """The table of one cord spec."""
        return self.by_spec.get(cord_spec_id, self.house)


@dataclass(frozen=True, eq=False)
class Gathered:
    """The columns of some bows, with what each index stands for."""

    rows: FleetRows
    keys: FittingRows
    """One row per row of `rows.cords`."""
    bow_ids: Ints
    """The bow of each bow index, ascending, and its site."""
    site_ids: Ints
    place_heats: PlaceHeats
    peak_weight_n: Floats
    """What each bow is set to by its latest set-up on record; nan: never recorded."""
    coefficients: Coefficients

    @cached_property
    def fittings(self) -> list[Fitting]:
        """The fittings as records, in the order of `keys`; read when asked for."""
        return records_of(self.keys)

    @property
    def bow_index(self) -> dict[int, int]:
        """The index of each bow."""
        return {pk: i for i, pk in enumerate(self.bow_ids.tolist())}


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
    wanted = None if bow_ids is None else sorted(set(bow_ids))
    keys = every_fitting(wanted, removed_too=removed_too) if since is None else fitted_now(wanted)
    chosen = None if wanted is None else sorted({*wanted, *keys.bow.tolist()})
    if chosen is not None and len(chosen) > MOST_NAMED:
        chosen = None
    bow_id, site_id = columns(_of(Bow.objects.all(), "pk", chosen), "pk", "site_id")
    order = np.argsort(bow_id)
    bow_of, site_of = bow_id[order].astype(np.int64), site_id[order].astype(np.int64)
    index = {pk: i for i, pk in enumerate(bow_of.tolist())}
    table = coefficients()
    stays = columns(
        _after(_of(Stay.objects.all(), "bow", chosen), since), "bow_id", "place_id", start="start", end="end"
    )
    sites = list(Site.objects.filter(pk__in=np.unique(site_of).tolist()).order_by("pk"))
    here = np.unique(stays[1]).astype(np.int64).tolist()
    places = list(Place.objects.filter(pk__in=here).select_related("site").order_by("pk"))
    place_index = {place.pk: len(sites) + i for i, place in enumerate(places)}
    cords = cord_rows(keys, index, {pk: table.of(pk) for pk in set(keys.spec.tolist())})
    rows = FleetRows(
        cords=cords,
        shots=_shot_rows(chosen, index, since),
        stays=StayRows(
            bow=indices_of(stays[0], index), place=indices_of(stays[1], place_index), start_s=stays[2], end_s=stays[3]
        ),
        parkings=_parking_rows(chosen, index, since),
        slacks=_slack_rows(chosen, index, since),
        default_place=indices_of(site_of, {site.pk: i for i, site in enumerate(sites)}),
    )
    energies = np.unique(cords.activation_energy_j_per_mol).tolist()
    readings = _readings(places, None if chosen is None else _stretches(stays, cords.fitted_s, since), since)
    heats = _place_heats(sites, places, energies, table.house, readings)
    latest = np.full(bow_of.size, np.inf)
    weights = _weights_at(np.arange(bow_of.size), latest, chosen, index)
    return Gathered(rows, keys, bow_of, site_of, heats, weights, table)


def shot_rows_of(entries: Sequence[Shots], index: Mapping[int, int]) -> ShotRows:
    """Single entries as columns; `index` gives each bow's."""
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


def _stretches(stays: Sequence[Floats], fitted_s: Floats, since: Since | None) -> list[Stretch] | None:
    """When the cords met the heat of a place: its part of the bows' stays from the first time one was fitted on.

    None: more than are read apart.
    """
    first_s = max(float(np.min(fitted_s, initial=np.inf)), -np.inf if since is None else since.heat_s)
    _bow, place, start, end = stays
    met = ~(end <= first_s) & np.isfinite(np.maximum(start, first_s))
    if np.count_nonzero(met) > MOST_STRETCHES:
        return None
    times = zip(place[met].tolist(), np.maximum(start[met], first_s).tolist(), end[met].tolist(), strict=True)
    return [Stretch(int(pk), start_s, end_s) for pk, start_s, end_s in times]


def _readings(places: list[Place], stretches: list[Stretch] | None, since: Since | None) -> dict[int, Readings]:
    """What each place's logger read: of a few bows what their stays need, of a fleet everything that counts."""
    if stretches is not None:
        return readings_for(stretches)
    return {place.pk: readings_of(place, None if since is None else since.heat_s) for place in places}


def _place_heats(
    sites: list[Site],
    places: list[Place],
    energies: list[float],
    house: Mapping[str, Coefficient],
    readings: Mapping[int, Readings],
) -> dict[float, dict[int, PlaceHeat]]:
    """Each place integrated once for each activation energy in use; the sites' assumed temperatures come first."""
    scales = {energy: HeatScale(energy, house["reference_temperature"].value) for energy in energies}
    heats: dict[float, dict[int, PlaceHeat]] = {energy: {} for energy in energies}
    for energy, scale in scales.items():
        for at, site in enumerate(sites):
            heats[energy][at] = PlaceHeat.fixed(site.indoor_temperature_c, scale)
        for at, place in enumerate(places, start=len(sites)):
            read = readings.get(place.pk, NO_READINGS)
            heats[energy][at] = place_heat(place, read, scale, house["max_bridged_gap"].value)
    return heats


def place_heat(place: Place, readings: Readings, scale: HeatScale, max_gap_h: float) -> PlaceHeat:
    """A place's cumulative heat: from its logger, or from its fixed temperature.

    A vehicle as a place reads like a logger: the readings are its cabin's; a stay in one that was only guessed from
    the outside temperature is recorded as a parking.
    """
    if place.temperature_source == TemperatureSource.FIXED and place.fixed_temperature_c is not None:
        return PlaceHeat.fixed(place.fixed_temperature_c, scale)
    return PlaceHeat.from_readings(*readings, place.site.indoor_temperature_c, scale, max_gap_h)


def _of(rows: QuerySet[Any], field: str, chosen: list[int] | None) -> QuerySet[Any]:
    return rows if chosen is None else rows.filter(**{f"{field}__in": chosen})


def _shot_rows(chosen: list[int] | None, index: Mapping[int, int], since: Since | None) -> ShotRows:
    rows = _of(Shots.objects.filter(superseded_at=None), "bow", chosen)
    if since is not None:
        # The longest entry bounds how far back one can begin that reaches beyond the instant: the index is on start.
        earliest = datetime.fromtimestamp(since.shots_s, UTC) - LONGEST_ENTRY
        rows = rows.filter(start__gte=earliest, end__gt=datetime.fromtimestamp(since.shots_s, UTC))
    bow, count, start, end = columns(rows, "bow_id", "count", start="start", end="end")
    of = indices_of(bow, index)
    # Put in order once: every later search and sum over them needs it.
    order = arrival_order(of, start)
    of, start, end, count = of[order], start[order], end[order], count[order]
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
