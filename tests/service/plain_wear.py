"""Life used of one cord worked out from the register's records, row by row: a second opinion that shares no code.

It reads records through the ORM and reckons with `tests.wear.plain`; the coefficients are written out here as
wear-model defaults (assumed and common-practice values of the house).
"""

from dataclasses import dataclass
from datetime import UTC, datetime, time

from django.db.models import QuerySet

from fleet.models import Bow, Cord, Fitting, Place, Relaxation, SetUp, Shots, Stay, TemperatureReading, VehicleParking
from tests.wear.plain import PlainParking, PlainPlace, plain_heat, plain_shots

ENERGY, REFERENCE_K, EXPONENT, SHELF = 118_000.0, 296.15, 8.0, 0.25
HOUR_S = 3_600.0
HOURS_PER_MONTH = 365.25 * 24.0 / 12.0
HEAT_WEIGHT = {"hmpe": 1.0, "hmpe_lcp_blend": 1.0, "polyester": 0.3, "lcp": 0.02}
NAN = float("nan")


@dataclass
class PlainLife:
    """Exposure and shares of rated life."""

    shots: float = 0.0
    tension_h: float = 0.0
    shelf_h: float = 0.0
    heat_h: float = 0.0

    def shares(self, cord: Cord) -> tuple[float, float, float]:
        """Shares of shots, time and heat."""
        spec, rated_h = cord.spec, cord.spec.rated_months * HOURS_PER_MONTH
        return (
            self.shots / spec.rated_shots,
            (self.tension_h + SHELF * self.shelf_h) / rated_h,
            HEAT_WEIGHT[spec.fibre] * (self.heat_h - self.tension_h) / rated_h,
        )


def seconds(moment: datetime) -> float:
    """Whole epoch seconds."""
    return float(int(moment.timestamp()))


def plain_life(cord: Cord, now: datetime) -> PlainLife:
    """What a cord has been through over all its fittings up to `now`."""
    life = PlainLife()
    shelf_since = None if cord.made_on is None else seconds(_noon(cord))
    for number, fitting in enumerate(cord.fittings.order_by("fitted_at")):
        fitted, now_s = seconds(fitting.fitted_at), seconds(now)
        removed = seconds(fitting.removed_at) if fitting.removed_at else float("inf")
        if fitted > now_s:
            continue
        known = cord.prior_tension_h if number == 0 else 0.0
        if number == 0:
            life = PlainLife(cord.prior_shots, known, 0.0, cord.prior_heat_h)
        if shelf_since is not None:
            life.shelf_h += max((fitted - min(shelf_since, fitted)) / HOUR_S - known, 0.0)
        shelf_since = removed
        life.shots += _shots(fitting, fitted, removed, now_s)
        end = min(removed, now_s)
        if end > fitted:
            tension, slack, heat, _ = _heat(fitting.bow, fitted, end)
            life.tension_h += tension
            life.shelf_h += slack
            life.heat_h += heat
    return life


def _noon(cord: Cord) -> datetime:
    return datetime.combine(cord.made_on, time(12), tzinfo=UTC)


def _shots(fitting: Fitting, fitted: float, removed: float, now_s: float) -> float:
    spec = fitting.cord.spec
    entries = [
        (seconds(one.start), seconds(one.end), float(one.count), _weight(fitting.bow, one.start))
        for one in Shots.objects.filter(bow=fitting.bow, superseded_at=None)
    ]
    rated, exponent = (spec.rated_peak_weight_n, EXPONENT) if spec.rated_peak_weight_n else (1.0, 0.0)
    return plain_shots(entries, fitted, removed, now_s, rated, exponent)


def _weight(bow: Bow, moment: datetime) -> float:
    set_up = SetUp.objects.filter(bow=bow, since__lte=moment).order_by("since").last()
    return set_up.peak_weight_n if set_up else NAN


def _heat(bow: Bow, start: float, end: float) -> tuple[float, float, float, float]:
    places = {place.pk: i for i, place in enumerate(Place.objects.all(), start=1)}
    temperatures = [PlainPlace([], bow.site.indoor_temperature_c)]
    temperatures += [_place(place) for place in Place.objects.all()]
    stays = [(places[one.place_id], *_span(one, end)) for one in Stay.objects.filter(bow=bow)]
    parkings = [
        PlainParking(*_span(one, end), _or_nan(one.outside_c), _or_nan(one.cabin_c), one.shade, one.boot)
        for one in VehicleParking.objects.filter(bow=bow)
    ]
    slacks = [_span(one, end) for one in Relaxation.objects.filter(bow=bow)]
    return plain_heat((start, end), stays, parkings, slacks, temperatures, ENERGY, REFERENCE_K)


def _or_nan(value: float | None) -> float:
    return NAN if value is None else value


def _span(one: Stay | VehicleParking | Relaxation, end: float) -> tuple[float, float]:
    return seconds(one.start), seconds(one.end) if one.end else end


def _place(place: Place) -> PlainPlace:
    if place.temperature_source == "fixed":
        return PlainPlace([], place.fixed_temperature_c)
    rows: QuerySet[TemperatureReading] = place.readings.order_by("at")
    return PlainPlace([(seconds(one.at), one.celsius) for one in rows], place.site.indoor_temperature_c)
