"""Places with their heat and gaps, the timing list, and the report on the forecast: what each page tells."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from fleet import record
from fleet.record import TemperatureRow
from service.models import TimingDrift
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop

NOW = personas.NOW


@pytest.fixture
def client(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    return signed_in(shop.manager)


def said(client: Client, address: str) -> str:
    return " ".join(Page(client.get(address)).words)


def log(shop: Shop, celsius: float, *, until_h_ago: float = 0.0, hours: int = 24 * 31) -> None:
    """Hourly readings of the rack at one temperature, up to so long ago."""
    end = NOW - timedelta(hours=until_h_ago)
    rows = [TemperatureRow(shop.rack, end - timedelta(hours=n), celsius) for n in range(hours)]
    record.add_many_readings(by=shop.owner, rows=rows, source="log")


class TestPlaces:
    def test_a_silent_logger_is_on_the_managers_page(self, client: Client, shop: Shop) -> None:
        log(shop, 23.0, until_h_ago=50.0)
        told = said(client, "/places/")
        assert "Readings are missing" in told
        assert "a gap of 50 h, longer than 3 h" in told
        assert "silent now" in told
        assert "the site's indoor temperature" in told

    def test_it_is_on_the_outlook_too(self, client: Client, shop: Shop) -> None:
        log(shop, 23.0, until_h_ago=50.0)
        told = said(client, "/outlook/")
        assert "Temperature readings are missing Rack (50 h)" in told
        assert "gaps longer than 3 h were taken at 69.8 °F" in told

    def test_a_logger_that_reads_on_is_not(self, client: Client, shop: Shop) -> None:
        log(shop, 23.0)
        told = said(client, "/places/")
        assert "Readings are missing" not in told
        assert "73.4 °F" in told

    def test_a_vehicle_that_nobody_measures_says_so_and_shows_no_figure(self, client: Client, shop: Shop) -> None:
        record.put_place(by=shop.owner, site=shop.site, name="Van", temperature_source="parked_vehicle")
        told = said(client, "/places/")
        assert "a vehicle without any reading of its cabin" in told
        assert "not measured" in told

    def test_a_bow_left_in_a_car_is_listed_with_what_its_heat_asks_for(self, client: Client, shop: Shop) -> None:
        bow = personas.fitted_bow(shop, tag="L-CAR")
        record.park_in_vehicle(
            by=shop.counter,
            bow=bow,
            start=personas.before(hours=6),
            end=personas.before(hours=4),
            outside_c=38.0,
            key="car",
            now=NOW,
        )
        told = said(client, "/places/")
        # 38 °C outside and 25.0 °C of rise after an hour (published table): 63 °C is 145.4 °F.
        assert "145.4 °F" in told
        assert "above 140.0 °F (assumed limit): look the cords over at the next check" in told

    def test_a_place_at_the_reference_temperature_gives_24_h_a_day(self, client: Client, shop: Shop) -> None:
        log(shop, 23.0)
        personas.fitted_bow(shop, tag="L-RACK")
        answer = client.get(f"/places/{shop.rack.pk}/")
        story = answer.context["story"]
        assert [round(day.heat_h, 6) for day in story.by_day[:-1]] == [24.0] * 29
        assert story.by_day[-1].heat_h < 24.0
        assert story.stays[0].tag == "L-RACK"
        assert story.stays[0].heat_h == pytest.approx(story.heat_h)
        assert not story.gaps

    def test_gaps_are_listed_with_what_they_were_taken_at_and_drawn_hollow(self, client: Client, shop: Shop) -> None:
        log(shop, 30.0, until_h_ago=24.0 * 5, hours=24 * 10)
        log(shop, 30.0, hours=24 * 4)
        answer = client.get(f"/places/{shop.rack.pk}/")
        between = [gap for gap in answer.context["story"].gaps if gap.kind == "between two readings"]
        assert [gap.hours for gap in between] == [25.0]
        assert between[0].assumed_c == shop.site.indoor_temperature_c
        assert b"heat-bar hollow" in answer.content
        assert "partly assumed" in " ".join(Page(answer).words)

    def test_it_reaches_back_90_days_when_asked(self, client: Client, shop: Shop) -> None:
        assert len(client.get(f"/places/{shop.rack.pk}/?days=90").context["story"].by_day) == 90
        assert len(client.get(f"/places/{shop.rack.pk}/?days=7000").context["story"].by_day) == 30

    def test_another_sites_place_is_not_there(self, client: Client, camp: Shop) -> None:
        assert client.get(f"/places/{camp.rack.pk}/").status_code == 404


class TestTiming:
    def test_the_soonest_is_first_with_its_bounds_and_what_is_assumed(
        self, client: Client, shop: Shop, computed: Callable[[], int]
    ) -> None:
        late = personas.fitted_bow(shop, tag="L-1")
        soon = personas.bare_bow(shop, late.spec_sheet, "L-2")
        computed()
        TimingDrift.objects.all().delete()
        for bow, days in ((late, 90), (soon, 20)):
            TimingDrift.objects.create(
                bow=bow,
                kind="hole_distance_upper",
                change_m=0.001,
                tolerance_m=personas.INCH_M / 16,
                leaves_from=NOW.date() + timedelta(days=days - 10),
                leaves_on=NOW.date() + timedelta(days=days),
                leaves_until=None,
                assumed=["arms", "creep_rate"],
            )
        told = said(client, "/due/timing/")
        assert told.index("L-2") < told.index("L-1")
        assert "upper cam leaves ±1/16 in about July 21, 2026" in told
        assert "10 % by July 11, 2026" in told
        assert "90 % not within a year" in told
        assert "a geometry nobody measured" in told

    def test_a_bow_that_nothing_is_predicted_of_is_not_called_in_tolerance(
        self, client: Client, shop: Shop, computed: Callable[[], int]
    ) -> None:
        personas.bare_bow(shop, personas.spec_sheet(shop.owner), "L-BARE")
        computed()
        told = said(client, "/due/timing/")
        assert "Not predicted" in told
        assert "L-BARE" in told


class TestCalibration:
    def test_with_too_little_history_it_says_that_nothing_was_tried(self, client: Client, shop: Shop) -> None:
        assert "too little to hold any of it back" in said(client, "/calibration/")

    def test_with_a_season_it_gives_coverage_margin_and_both_errors(
        self, client: Client, shop: Shop, computed: Callable[[], int]
    ) -> None:
        bow = personas.fitted_bow(shop, days_ago=170.0)
        for n in range(160):
            personas.shoot(shop, bow, 30 + 10 * (n % 7), days_ago=165.0 - n, key=f"season-{n}")
        computed()
        answer = client.get("/calibration/")
        report = answer.context["report"]
        told = " ".join(Page(answer).words)
        assert f"it held {100 * report.coverage:.0f} % of {report.count}" in told
        assert f"80 % ± {100 * report.margin:.0f} % is expected" in told
        assert sum(one.percent for one in answer.context["picture"].slices) == pytest.approx(100.0)
