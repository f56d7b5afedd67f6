"""Heat from where it comes to what a person is told, through the register: logger, fixed place, parked vehicle, shelf.

Expected hours and temperatures are reckoned plainly here, with the wear model's values written out: 118 kJ/mol and 23
degC (assumed, common practice), the published cabin rise of 25.0 degC past an hour (J. Null, San Jose State
University), shade x0.55, boot x0.6 and a ceiling of 76 degC (assumed), cautions above 60, 70 and 80 degC (assumed).
"""

import math
from datetime import timedelta
from typing import Any

import pytest

from fleet import record
from fleet.models import Bow, Place
from fleet.record import TemperatureRow
from service import decide
from service.models import CordWear, Need
from service.verdicts import verdict_of
from tests import personas

pytestmark = pytest.mark.django_db

NOW = personas.NOW
DAYS = 20.0
INDOOR_C = 21.0


def factor(celsius: float) -> float:
    """Hours at 23 degC that an hour at a temperature is worth."""
    return math.exp(118_000.0 / 8.314462618 * (1.0 / 296.15 - 1.0 / (celsius + 273.15)))


@pytest.fixture
def shop() -> personas.Shop:
    return personas.shop(indoor_temperature_c=INDOOR_C)


def fixed(shop: personas.Shop, celsius: float) -> Place:
    return record.put_place(
        by=shop.owner, site=shop.site, name=f"at {celsius}", temperature_source="fixed", fixed_temperature_c=celsius
    )


def bow_at(shop: personas.Shop, place: Place | None, kind: str = "compound") -> Bow:
    """A bow with its cords on for 20 days, all of them at a place; looked over never, in service since then."""
    sheet = personas.spec_sheet(shop.owner, "single", kind=kind)
    bow = personas.bare_bow(shop, sheet, in_service_on=personas.before(DAYS).date())
    for row in sheet.cords.select_related("cord_spec"):
        personas.fit(shop, bow, personas.cord(shop, row.cord_spec), days_ago=DAYS)
    if place is not None:
        record.add_stay(by=shop.technician, bow=bow, place=place, start=personas.before(DAYS), now=NOW)
    return bow


def an_hour_at(shop: personas.Shop, celsius: float) -> Bow:
    """A recurve that hung in a fixed place for an hour yesterday."""
    bow = bow_at(shop, None, "recurve")
    start = personas.before(1.0)
    hot = fixed(shop, celsius)
    record.add_stay(by=shop.technician, bow=bow, place=hot, start=start, end=start + timedelta(hours=1), now=NOW)
    return bow


def parked(shop: personas.Shop, **how: Any) -> Bow:
    """A recurve left in a vehicle for two hours yesterday."""
    bow = bow_at(shop, None, "recurve")
    start = personas.before(1.0)
    record.park_in_vehicle(
        by=shop.counter, bow=bow, start=start, end=start + timedelta(hours=2), key=f"car-{bow.tag}", now=NOW, **how
    )
    return bow


def logged(shop: personas.Shop, celsius: float) -> Bow:
    """A recurve on the rack, whose logger saw one hot hour among cool ones."""
    rows = [
        TemperatureRow(shop.rack, NOW - timedelta(hours=n), celsius if n == 30 else 20.0)
        for n in range(int(24 * DAYS) + 1)
    ]
    record.add_many_readings(by=shop.owner, rows=rows, source="log")
    return bow_at(shop, shop.rack, "recurve")


HOT = {
    "logger": (logged, 0.0),
    "fixed place": (an_hour_at, 0.0),
    "cabin measured": (lambda shop, celsius: parked(shop, cabin_c=celsius), 0.0),
    "outside temperature": (lambda shop, celsius: parked(shop, outside_c=celsius), 25.0),
    "outside, in the shade": (lambda shop, celsius: parked(shop, outside_c=celsius, shade=True), 0.55 * 25.0),
    "outside, in the boot": (lambda shop, celsius: parked(shop, outside_c=celsius, boot=True), 0.6 * 25.0),
}


@pytest.mark.parametrize("source", HOT)
class TestCautions:
    def told(self, shop: personas.Shop, source: str, celsius: float) -> tuple[Bow, Need]:
        make, rise_c = HOT[source]
        bow = make(shop, celsius - rise_c)
        decide.rebuild(NOW)
        assert {round(w.hottest_c, 9) for w in CordWear.objects.filter(fitting__bow=bow)} == {round(celsius, 9)}
        return bow, Need.objects.get(bow=bow, kind="inspection")

    def test_at_60_degrees_nothing_is_said(self, shop: personas.Shop, source: str) -> None:
        bow, need = self.told(shop, source, 60.0)
        assert "Cords reached" not in need.reason
        assert verdict_of(bow, NOW).may_go

    def test_above_60_it_is_told_with_the_next_inspection(self, shop: personas.Shop, source: str) -> None:
        bow, need = self.told(shop, source, 63.0)
        assert "Cords reached 145.4 °F, above 140.0 °F (assumed limit): look the cords over at the next check" in (
            need.reason
        )
        assert need.due_on > NOW.date()
        assert verdict_of(bow, NOW).may_go

    def test_above_70_it_is_inspected_before_the_next_hire(self, shop: personas.Shop, source: str) -> None:
        bow, need = self.told(shop, source, 72.0)
        assert need.reason.startswith("Cords reached 161.6 °F, above 158.0 °F (assumed limit): inspect the cords")
        assert (need.due_on, need.latest_on, need.holds) == (NOW.date(), NOW.date(), False)
        assert verdict_of(bow, NOW + timedelta(days=1)).may_go is False


@pytest.mark.parametrize("source", ["logger", "fixed place", "cabin measured"])
def test_above_80_the_bow_is_held(shop: personas.Shop, source: str) -> None:
    bow = HOT[source][0](shop, 81.0)
    decide.rebuild(NOW)
    need = Need.objects.get(bow=bow, kind="inspection")
    assert need.holds
    verdict = verdict_of(bow, NOW)
    assert not verdict.may_go
    assert any("hold the bow" in line for line in verdict.because)


def test_a_cabin_reckoned_from_outside_never_passes_its_ceiling(shop: personas.Shop) -> None:
    """The estimate stops at 76 degC, so that only a measured cabin can hold a bow: it is inspected instead."""
    bow = parked(shop, outside_c=56.0)
    decide.rebuild(NOW)
    assert {w.hottest_c for w in CordWear.objects.filter(fitting__bow=bow)} == {76.0}
    assert not Need.objects.get(bow=bow, kind="inspection").holds


def heat_of(bow: Bow) -> tuple[float, float, float]:
    """Hours under tension, slack or on the shelf, and at 23 degC, of the bow's string."""
    decide.rebuild(NOW)
    wear = CordWear.objects.get(fitting__bow=bow, fitting__position="string")
    return wear.tension_h, wear.shelf_h, wear.heat_h


class TestWhereHeatCounts:
    """Against plain arithmetic."""

    def test_a_fixed_place(self, shop: personas.Shop) -> None:
        tension_h, _, heat_h = heat_of(bow_at(shop, fixed(shop, 35.0)))
        assert tension_h == pytest.approx(24.0 * DAYS)
        assert heat_h == pytest.approx(24.0 * DAYS * factor(35.0), rel=1e-9)

    def test_without_a_stay_the_sites_indoor_temperature(self, shop: personas.Shop) -> None:
        assert heat_of(bow_at(shop, None))[2] == pytest.approx(24.0 * DAYS * factor(INDOOR_C), rel=1e-9)

    def test_a_gap_over_three_hours_is_taken_at_the_indoor_temperature_and_a_shorter_one_bridged(
        self, shop: personas.Shop
    ) -> None:
        """35 degC every hour, but nothing for 3 h once and nothing for 4 h another time."""
        missing = {*range(101, 103), *range(201, 204)}
        rows = [
            TemperatureRow(shop.rack, NOW - timedelta(hours=n), 35.0)
            for n in range(int(24 * DAYS) + 1)
            if n not in missing
        ]
        record.add_many_readings(by=shop.owner, rows=rows, source="log")
        expected = (24.0 * DAYS - 4.0) * factor(35.0) + 4.0 * factor(INDOOR_C)
        assert heat_of(bow_at(shop, shop.rack))[2] == pytest.approx(expected, rel=1e-9)

    def test_a_measured_cabin_goes_before_the_stay_under_it(self, shop: personas.Shop) -> None:
        expected = (24.0 * DAYS - 2.0) * factor(INDOOR_C) + 2.0 * factor(55.0)
        assert heat_of(parked(shop, cabin_c=55.0))[2] == pytest.approx(expected, rel=1e-9)

    def test_the_shelf_before_fitting_gives_no_heat_and_a_quarter_of_its_time(self, shop: personas.Shop) -> None:
        """Made 200 days ago (noon UTC), fitted 20 days ago: the 180 days between were on a shelf, however hot."""
        bow = bow_at(shop, fixed(shop, 35.0))
        made_h = (personas.before(DAYS) - personas.before(200).replace(hour=12)).total_seconds() / 3_600.0
        tension_h, shelf_h, heat_h = heat_of(bow)
        assert shelf_h == pytest.approx(made_h)
        assert heat_h == pytest.approx(tension_h * factor(35.0), rel=1e-9)
        wear = CordWear.objects.get(fitting__bow=bow, fitting__position="string")
        rated_h = 12.0 * 365.25 * 24.0 / 12.0
        assert wear.life_time == pytest.approx((tension_h + 0.25 * made_h) / rated_h, rel=1e-9)

    @pytest.mark.parametrize(("kind", "why"), [("recurve", "unstrung"), ("longbow", "unstrung"), ("compound", "press")])
    def test_an_unstrung_or_relaxed_bow_counts_as_shelf(self, shop: personas.Shop, kind: str, why: str) -> None:
        bow = bow_at(shop, fixed(shop, 35.0), kind)
        start = personas.before(10.0)
        record.relax(by=shop.technician, bow=bow, start=start, end=start + timedelta(hours=60), why=why, now=NOW)
        made_h = (personas.before(DAYS) - personas.before(200).replace(hour=12)).total_seconds() / 3_600.0
        tension_h, shelf_h, heat_h = heat_of(bow)
        assert tension_h == pytest.approx(24.0 * DAYS - 60.0)
        assert shelf_h == pytest.approx(made_h + 60.0)
        assert heat_h == pytest.approx((24.0 * DAYS - 60.0) * factor(35.0), rel=1e-9)

    def test_each_minute_or_each_hour_gives_the_same_heat_on_a_smooth_day(self, shop: personas.Shop) -> None:
        """A summer rack swinging 18 to 38 degC: the same bow by two loggers, through the register."""
        found = []
        for name, minutes in (("by minute", 1), ("by hour", 60)):
            place = record.put_place(by=shop.owner, site=shop.site, name=name, temperature_source="logger")
            rows = [
                TemperatureRow(place, NOW - timedelta(minutes=n), 28.0 + 10.0 * math.cos(2.0 * math.pi * n / 1_440.0))
                for n in range(0, int(1_440 * DAYS) + 1, minutes)
            ]
            record.add_many_readings(by=shop.owner, rows=rows, source=name)
            found.append(heat_of(bow_at(shop, place))[2])
        assert found[1] == pytest.approx(found[0], rel=0.01)
