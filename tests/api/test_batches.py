"""Batches in: idempotent, each item by itself, in the device's own name, and what is refused says why."""

from collections.abc import Callable
from typing import Any
from unittest.mock import patch

import pytest

from fleet import record
from fleet.models import AuditEntry, Bow, Shots, TemperatureReading
from service.models import StaleBow
from tests import personas
from tests.api.conftest import Device, reading, shots
from tests.personas import Shop

pytestmark = pytest.mark.django_db
SHOTS, READINGS = "/api/shots", "/api/readings"


class TestShots:
    def test_are_in_the_book_in_the_devices_name(self, bow: Bow, device: Callable[..., Device]) -> None:
        counter = device("shots")
        (result,) = counter.results(SHOTS, shots(count=37))
        assert result == {"index": 0, "status": "added"}
        entry = Shots.objects.get()
        assert (entry.bow, entry.count, entry.how_known, entry.entered_by) == (bow, 37, "counter", counter.token.person)
        audit = AuditEntry.objects.get(verb="add_many_shots")
        assert (audit.person, audit.detail["source"]) == (counter.token.person, "Lane 3 counter")

    def test_the_same_batch_again_changes_nothing(self, bow: Bow, device: Callable[..., Device]) -> None:
        counter = device("shots")
        batch = [shots(key=f"k-{n}", count=n) for n in range(1, 6)]
        assert {one["status"] for one in counter.results(SHOTS, *batch)} == {"added"}
        rows = AuditEntry.objects.count()
        assert {one["status"] for one in counter.results(SHOTS, *batch)} == {"known"}
        assert (Shots.objects.count(), AuditEntry.objects.count()) == (5, rows)

    def test_a_sites_new_device_sends_an_entry_again(self, bow: Bow, device: Callable[..., Device]) -> None:
        device("shots").results(SHOTS, shots())
        assert device("shots", name="Its successor").results(SHOTS, shots())[0]["status"] == "known"

    def test_the_good_ones_are_taken_and_the_others_told_why(self, bow: Bow, device: Callable[..., Device]) -> None:
        found = device().results(
            SHOTS,
            shots(key="good"),
            shots(key="many", count=5_001),
            shots(key="nobody", bow="L-999"),
            shots(key="ahead", end="2027-01-01T00:00:00Z"),
            shots(key="when", start="yesterday"),
            shots(key="bare", start="2026-06-30T10:00:00"),
            shots(key="good", count=41),
            shots(key="good"),
            shots(key="backwards", end="2026-06-30T09:00:00Z"),
        )
        assert [one["status"] for one in found] == ["added", *["refused"] * 6, "known", "refused"]
        kinds = [one["problem"]["type"].rpartition("/")[2] for one in found if "problem" in one]
        assert kinds == ["out-of-range", "not-found", "refused", "not-a-time", "not-a-time", "used-key", "refused"]
        assert Shots.objects.get().count == 40
        many = found[1]["problem"]
        assert (many["value"], many["allowed"], many["unit"]) == (5001, "0 to 5000", "shots in one entry")
        assert many["status"] == 422 and many["detail"] and many["next_step"] and many["title"]

    def test_what_another_entry_has_is_not_told_across_sites(
        self, shop: Shop, camp: Shop, bow: Bow, device: Callable[..., Device]
    ) -> None:
        device("shots").results(SHOTS, shots(count=77))
        elsewhere = personas.fitted_bow(camp, "single", "C-1")
        (found,) = device("shots", at=camp).results(SHOTS, shots(bow="C-1", count=5))
        assert found["status"] == "added"
        assert elsewhere.shots.get().count == 5

    def test_another_sites_bow_is_not_there(
        self, shop: Shop, camp: Shop, bow: Bow, device: Callable[..., Device]
    ) -> None:
        (found,) = device("shots", at=camp).results(SHOTS, shots())
        assert found["problem"]["type"] == "/api/problems/not-found"
        assert not Shots.objects.exists()

    def test_a_sender_that_came_between_costs_the_others_nothing(self, bow: Bow, device: Callable[..., Device]) -> None:
        counter, write = device("shots"), record.add_many_shots

        def after_another(**given: Any) -> int:
            if len(given["rows"]) > 1:
                raise record.Refused("key 'x' was used for another entry")
            return write(**given)

        with patch.object(record, "add_many_shots", after_another):
            found = counter.results(SHOTS, shots(key="a"), shots(key="b"))
        assert [one["status"] for one in found] == ["added", "added"]
        assert Shots.objects.count() == 2

    def test_the_bow_is_marked_for_its_wear(self, bow: Bow, device: Callable[..., Device]) -> None:
        StaleBow.objects.all().delete()
        device("shots").results(SHOTS, shots())
        assert StaleBow.objects.filter(bow=bow).exists()


class TestReadings:
    def test_are_in_the_book(self, shop: Shop, device: Callable[..., Device]) -> None:
        found = device("readings").results(READINGS, reading(), reading(at="2026-06-30T10:10:00+02:00", celsius=-3))
        assert [one["status"] for one in found] == ["added", "added"]
        assert sorted(TemperatureReading.objects.values_list("celsius", flat=True)) == [-3, 21.5]
        assert {row.source for row in TemperatureReading.objects.all()} == {"Lane 3 counter"}

    def test_one_instant_has_one_temperature(self, shop: Shop, device: Callable[..., Device]) -> None:
        logger = device("readings")
        logger.results(READINGS, reading())
        same = reading(at="2026-06-30T08:00:00Z")
        found = logger.results(
            READINGS, same, reading(celsius=22), reading(at="2026-06-30T09:00:00Z"), reading(at="2026-06-30T09:00:00Z")
        )
        assert [one["status"] for one in found] == ["known", "refused", "added", "known"]
        assert found[1]["problem"]["type"] == "/api/problems/used-key"
        assert TemperatureReading.objects.count() == 2

    def test_what_cannot_be(self, shop: Shop, device: Callable[..., Device]) -> None:
        found = device("readings").results(
            READINGS,
            reading(celsius=96),
            reading(place="Attic"),
            reading(at="2026-07-02T10:00:00Z"),
            reading(at="0001-01-01T00:00:00+14:00"),
        )
        assert [one["problem"]["type"].rpartition("/")[2] for one in found] == [
            "out-of-range", "not-found", "refused", "not-a-time",
        ]  # fmt: skip
        assert found[0]["problem"] | {"value": 96, "allowed": "-50 to 95", "unit": "degC"} == found[0]["problem"]
        assert not TemperatureReading.objects.exists()

    def test_a_place_of_another_site_is_not_there(self, shop: Shop, camp: Shop, device: Callable[..., Device]) -> None:
        record.put_place(by=shop.owner, site=camp.site, name="Trailer", temperature_source="logger")
        (found,) = device("readings").results(READINGS, reading(place="Trailer"))
        assert found["status"] == "refused"
