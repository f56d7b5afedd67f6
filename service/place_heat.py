"""What a place's temperature rests on and what it did to the cords that hung there, over the last days: for people."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, timedelta
from functools import partial

import numpy as np
from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from fleet.models import Place, Site, Stay, TemperatureReading, VehicleParking
from fleet.vocabulary import TemperatureSource
from service.gather import coefficients, place_heat
from service.heat_alarms import heat_limits, shown_celsius
from service.instants import day_of, epoch_s, start_of
from service.place_readings import NO_READINGS, Stretch, readings_for, readings_of
from service.units import Units
from service.wear.arrays import Floats
from service.wear.cautions import caution_sentence
from service.wear.coefficients import Coefficient, Label
from service.wear.heat import Gap, GapKind, HeatScale, PlaceHeat
from service.wear.vehicle import CabinModel, Cabins, cabin_heat_h, cabin_temperature_c


@dataclass(frozen=True)
class PlaceGap:
    """A stretch without readings, taken at the assumed temperature (degC)."""

    start: datetime
    end: datetime
    hours: float
    kind: GapKind
    assumed_c: float


@dataclass(frozen=True)
class DayOfHeat:
    """One calendar day of the site: hours at the reference temperature, and whether part of it was only assumed."""

    day: date
    heat_h: float
    hottest_c: float
    has_gap: bool


@dataclass(frozen=True)
class StayHeat:
    """A bow at the place in these days: heat hours of its cords if strung all the time, and the hottest it met."""

    tag: str
    start: datetime
    end: datetime | None
    heat_h: float
    hottest_c: float


@dataclass(frozen=True, kw_only=True)
class PlaceLine:
    """One place over some days up to now. `silent_h`: hours since the last reading, where that is a gap.
    `caution`: what the house does about the hottest; empty for nothing. `bows_now`: how many hang there."""

    place: Place
    last: TemperatureReading | None
    silent_h: float | None
    gaps: tuple[PlaceGap, ...]
    max_gap_h: float
    heat_h: float
    hottest_c: float
    caution: str
    bows_now: int

    @property
    def gap_h(self) -> float:
        """Hours without readings in these days."""
        return sum(gap.hours for gap in self.gaps)

    @property
    def is_unread_vehicle(self) -> bool:
        """A vehicle as a place without a cabin logger: what it gets to is known only of recorded parkings."""
        return self.place.temperature_source == TemperatureSource.PARKED_VEHICLE and self.last is None

    @property
    def is_measured(self) -> bool:
        """Whether its figures rest on readings, or on a temperature that the house fixed."""
        return self.last is not None or self.place.temperature_source == TemperatureSource.FIXED


@dataclass(frozen=True, kw_only=True)
class PlaceStory(PlaceLine):
    """The same day by day over `days` days, with the bows that stood there."""

    days: int
    start: datetime
    by_day: tuple[DayOfHeat, ...]
    hottest_at: datetime | None
    stays: tuple[StayHeat, ...]
    assumed: tuple[str, ...]


@dataclass(frozen=True)
class ParkingHeat:
    """A bow left in a parked vehicle: the hottest its cabin got and its heat hours, by the model or as measured.

    `caution` says what the house does about that temperature; empty for nothing.
    """

    parking: VehicleParking
    hottest_c: float
    heat_h: float
    caution: str


@dataclass(frozen=True)
class _Window:
    """The days looked back over, the last one today, in the time zone of the places."""

    first: date
    days: int
    zone: str
    now: datetime

    @property
    def start(self) -> datetime:
        """The first instant."""
        return start_of(self.first, self.zone)


def story_of(place: Place, now: datetime, days: int) -> PlaceStory:
    """The story of a place; its readings are read once."""
    house = coefficients().house
    window = _window(place.site, now, days)
    start_s, now_s = epoch_s(window.start), epoch_s(now)
    times, celsius = readings_of(place, start_s)
    heat = place_heat(place, (times, celsius), _scale(house), house["max_bridged_gap"].value)
    gaps = heat.gaps(start_s, now_s)
    last = place.readings.filter(at__lte=now).order_by("-at").first()
    stays = _stays(place, heat, window.start, now)
    line = _line(place, heat, house, window, last, sum(stay.end is None for stay in stays))
    is_fixed = place.temperature_source == TemperatureSource.FIXED
    return PlaceStory(
        **{field.name: getattr(line, field.name) for field in fields(line)},
        days=days,
        start=window.start,
        by_day=_by_day(heat, gaps, window.first, days, window.zone, now_s),
        hottest_at=None if is_fixed else _hottest_at(times, celsius, start_s, now_s),
        stays=stays,
        assumed=tuple(_assumed(house, ["activation_energy", *(["max_bridged_gap"] if gaps else [])])),
    )


def lines_of(places: Iterable[Place], now: datetime, days: int) -> list[PlaceLine]:
    """Some places of one site, in their order, without their days and stays; four queries however many."""
    places = list(places)
    if not places:
        return []
    house, window = coefficients().house, _window(places[0].site, now, days)
    start_s, now_s = epoch_s(window.start), epoch_s(now)
    readings = readings_for([Stretch(place.pk, start_s, now_s) for place in places])
    last, bows_now = _last_readings(places, now), _bows_now(places, now)
    scale, max_gap_h = _scale(house), house["max_bridged_gap"].value
    lines = []
    for place in places:
        heat = place_heat(place, readings.get(place.pk, NO_READINGS), scale, max_gap_h)
        lines.append(_line(place, heat, house, window, last.get(place.pk), bows_now.get(place.pk, 0)))
    return lines


def _line(
    place: Place,
    heat: PlaceHeat,
    house: Mapping[str, Coefficient],
    window: _Window,
    last: TemperatureReading | None,
    bows_now: int,
) -> PlaceLine:
    start_s, now_s = epoch_s(window.start), epoch_s(window.now)
    gaps, hottest = heat.gaps(start_s, now_s), float(heat.max_between(start_s, now_s)[0])
    return PlaceLine(
        place=place,
        last=last,
        silent_h=next((g.hours for g in gaps if g.kind is GapKind.AFTER_LAST), None) if last else None,
        gaps=tuple(_gap(one) for one in gaps),
        max_gap_h=house["max_bridged_gap"].value,
        heat_h=float(heat.between(start_s, now_s)),
        hottest_c=hottest,
        caution=caution_sentence(hottest, heat_limits(house), partial(shown_celsius, Units(place.site.units))),
        bows_now=bows_now,
    )


def _window(site: Site, now: datetime, days: int) -> _Window:
    return _Window(day_of(now, site.time_zone) - timedelta(days=days - 1), days, site.time_zone, now)


def _last_readings(places: Sequence[Place], now: datetime) -> dict[int, TemperatureReading]:
    """The latest reading of each place that has one."""
    latest = TemperatureReading.objects.filter(place=OuterRef("pk"), at__lte=now).order_by("-at").values("pk")[:1]
    named = Place.objects.filter(pk__in=[place.pk for place in places]).order_by().annotate(latest=Subquery(latest))
    return {one.place_id: one for one in TemperatureReading.objects.filter(pk__in=named.values("latest"))}


def _bows_now(places: Sequence[Place], now: datetime) -> dict[int, int]:
    """How many bows hang at each place that has any."""
    there = Stay.objects.filter(place__in=[place.pk for place in places], end=None, start__lte=now)
    return dict(there.order_by().values_list("place").annotate(bows=Count("pk")))


def places_of(site: Site) -> "QuerySet[Place]":
    """Every place of a site, by name."""
    return site.places.select_related("site").order_by("name")


def parkings_in(site: Site, now: datetime, days: int) -> "QuerySet[VehicleParking]":
    """Every time that a bow of a site was left in a vehicle in these days, the latest first."""
    since = now - timedelta(days=days)
    rows = VehicleParking.objects.filter(bow__site=site, end__gte=since, start__lte=now).select_related("bow")
    return rows.order_by("-start", "-pk")


def heat_of_parkings(parkings: Sequence[VehicleParking], site: Site, now: datetime) -> list[ParkingHeat]:
    """What each of these did to the cords of its bow."""
    if not parkings:
        return []
    house = coefficients().house
    model = CabinModel(house["cabin_shade_factor"].value, house["cabin_boot_factor"].value, house["cabin_cap"].value)
    energy, reference_k = house["activation_energy"].value, house["reference_temperature"].value
    limits, show = heat_limits(house), partial(shown_celsius, Units(site.units))
    cabins = Cabins(
        np.array([np.nan if one.outside_c is None else one.outside_c for one in parkings]),
        np.array([np.nan if one.cabin_c is None else one.cabin_c for one in parkings]),
        np.array([one.shade for one in parkings]),
        np.array([one.boot for one in parkings]),
    )
    parked_s = np.array([epoch_s(min(one.end, now)) - epoch_s(one.start) for one in parkings])
    hottest = cabin_temperature_c(cabins, parked_s, model).tolist()
    heat_h = cabin_heat_h(cabins, parked_s, model, energy, reference_k).tolist()
    return [
        ParkingHeat(one, warm, heat, caution_sentence(warm, limits, show))
        for one, warm, heat in zip(parkings, hottest, heat_h, strict=True)
    ]


def _scale(house: Mapping[str, Coefficient]) -> HeatScale:
    return HeatScale(house["activation_energy"].value, house["reference_temperature"].value)


def _assumed(house: Mapping[str, Coefficient], names: Iterable[str]) -> list[str]:
    return [name for name in names if house[name].label is Label.ASSUMED]


def _gap(gap: Gap) -> PlaceGap:
    start, end = (datetime.fromtimestamp(at, UTC) for at in (gap.start_s, gap.end_s))
    return PlaceGap(start, end, gap.hours, gap.kind, gap.assumed_c)


def _by_day(heat: PlaceHeat, gaps: list[Gap], first: date, days: int, zone: str, now_s: float) -> tuple[DayOfHeat, ...]:
    edges = np.array([epoch_s(start_of(first + timedelta(days=n), zone)) for n in range(days + 1)])
    edges = np.minimum(edges, now_s)
    heat_h = heat.between(edges[:-1], edges[1:])
    hottest = heat.max_between(edges[:-1], edges[1:])
    return tuple(
        DayOfHeat(
            first + timedelta(days=n),
            float(heat_h[n]),
            float(hottest[n]),
            any(gap.start_s < edges[n + 1] and gap.end_s > edges[n] for gap in gaps),
        )
        for n in range(days)
    )


def _hottest_at(times_s: Floats, celsius: Floats, start_s: float, now_s: float) -> datetime | None:
    """When the hottest reading of these days was taken."""
    inside = (times_s >= start_s) & (times_s <= now_s)
    if not np.any(inside):
        return None
    return datetime.fromtimestamp(float(times_s[inside][np.argmax(celsius[inside])]), UTC)


def _stays(place: Place, heat: PlaceHeat, start: datetime, now: datetime) -> tuple[StayHeat, ...]:
    rows = Stay.objects.filter(Q(end=None) | Q(end__gt=start), place=place, start__lte=now).select_related("bow")
    stays = list(rows.order_by("bow__tag", "-start"))
    if not stays:
        return ()
    begin = np.array([epoch_s(max(one.start, start)) for one in stays])
    end = np.array([epoch_s(min(one.end or now, now)) for one in stays])
    heat_h, hottest = heat.between(begin, end), heat.max_between(begin, end)
    return tuple(
        StayHeat(one.bow.tag, one.start, one.end, float(h), float(c))
        for one, h, c in zip(stays, heat_h, hottest, strict=True)
    )
