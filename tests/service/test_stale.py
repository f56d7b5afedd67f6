"""What a fact makes stale, and when it is computed: at once for a few bows, by the next refresh for many."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from unittest.mock import patch

import pytest
import time_machine
from django.db import transaction

from fleet import record
from fleet.models import Bow, Fitting
from fleet.record import StayRow, TemperatureRow
from service import decide, stale
from service.cord_lives import cord_lives
from service.models import CordWear, StaleBow
from tests import personas
from tests.committed import committed_book

__all__ = ["committed_book"]
pytestmark = [pytest.mark.both_engines, pytest.mark.usefixtures("committed_book")]

NOW = personas.NOW


@pytest.fixture(autouse=True)
def _now() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def shop(committed_book: None) -> personas.Shop:
    return personas.shop()


@pytest.fixture
def bow(shop: personas.Shop) -> Bow:
    return personas.fitted_bow(shop, "single", "L-1")


def waiting() -> set[str]:
    return set(StaleBow.objects.values_list("bow__tag", flat=True))


def lives(bow: Bow) -> dict[int, float]:
    return dict(CordWear.objects.filter(fitting__bow=bow).values_list("fitting_id", "life_used"))


def full(bow: Bow, at: datetime = NOW) -> dict[int, float]:
    """Life used of each cord on a bow, from its whole history."""
    found = cord_lives([bow.pk], at)
    return {fitting.pk: life for fitting, life in zip(found.fittings, found.life.total.tolist(), strict=True)}


def is_exact(bow: Bow) -> bool:
    return lives(bow) == pytest.approx(full(bow), abs=1e-9)


def log(shop: personas.Shop, hours_ago: float, celsius: float) -> None:
    row = TemperatureRow(shop.rack, personas.before(hours=hours_ago), celsius)
    record.add_many_readings(by=shop.technician, rows=[row], source="logger")


class TestAtOnce:
    def test_a_fact_is_counted_when_its_verb_returns(self, shop: personas.Shop, bow: Bow) -> None:
        assert not waiting()
        before = lives(bow)
        personas.shoot(shop, bow, 100)
        assert not waiting()
        assert all(lives(bow)[pk] - life == pytest.approx(100 / 5_000) for pk, life in before.items())

    def test_inside_a_transaction_it_waits_for_its_end(self, shop: personas.Shop, bow: Bow) -> None:
        before = lives(bow)
        with transaction.atomic():
            personas.shoot(shop, bow, 100)
            assert (waiting(), lives(bow)) == ({"L-1"}, before)
        assert not waiting()
        assert is_exact(bow)

    def test_what_is_undone_was_never_counted(self, shop: personas.Shop, bow: Bow) -> None:
        before = lives(bow)
        with pytest.raises(ZeroDivisionError), transaction.atomic():
            personas.shoot(shop, bow, 100)
            raise ZeroDivisionError
        assert (waiting(), lives(bow)) == (set(), before)

    def test_a_computation_that_fails_leaves_the_fact_and_the_mark(self, shop: personas.Shop, bow: Bow) -> None:
        with patch.object(decide, "add_entry", side_effect=RuntimeError("out of memory")):
            entry = personas.shoot(shop, bow, 100)
        assert bow.shots.get() == entry
        assert waiting() == {"L-1"}
        assert decide.refresh_stale(NOW) == 1
        assert not waiting()
        assert is_exact(bow)

    def test_after_a_failed_entry_the_next_one_counts_both(self, shop: personas.Shop, bow: Bow) -> None:
        with patch.object(decide, "add_entry", side_effect=RuntimeError("out of memory")):
            personas.shoot(shop, bow, 100)
        personas.shoot(shop, bow, 50)
        assert not waiting()
        assert is_exact(bow)


class TestMany:
    def test_a_file_over_many_bows_only_marks_them(self, shop: personas.Shop) -> None:
        sheet = personas.spec_sheet(shop.owner, kind="recurve")
        bows = [personas.bare_bow(shop, sheet, f"M-{n:02d}") for n in range(stale.AT_ONCE + 1)]
        rows = [StayRow(bow, shop.rack, personas.before(3)) for bow in bows]
        record.add_many_stays(by=shop.technician, rows=rows, source="file", now=NOW)
        assert waiting() == {bow.tag for bow in bows}
        assert decide.refresh_stale(NOW) == len(bows)
        assert not waiting()


class TestReadings:
    def test_a_bow_that_left_in_the_gap_that_a_reading_closes(self, shop: personas.Shop, bow: Bow) -> None:
        """10:00 is logged, the bow leaves at 11:00, 12:00 is logged: from 10 to 12 the rack is known after all."""
        log(shop, 5.0, 40.0)
        other = record.put_place(by=shop.owner, site=shop.site, name="Away", temperature_source="logger")
        record.move_to_place(by=shop.technician, bow=bow, place=other, at=personas.before(hours=4), now=NOW)
        before = lives(bow)
        log(shop, 3.0, 40.0)
        assert is_exact(bow)
        assert all(lives(bow)[pk] > life for pk, life in before.items())

    def test_a_bow_that_was_never_there_is_left_alone(self, shop: personas.Shop, bow: Bow) -> None:
        other = personas.fitted_bow(shop, "single", "L-2")
        place = record.put_place(by=shop.owner, site=shop.site, name="Away", temperature_source="logger")
        record.move_to_place(by=shop.technician, bow=other, place=place, at=personas.before(20), now=NOW)
        with patch.object(decide, "refresh") as refresh:
            log(shop, 3.0, 40.0)
        assert {pk for call in refresh.call_args_list for pk in call.args[0]} == {bow.pk}

    def test_a_place_whose_source_changes_concerns_all_its_stays(self, shop: personas.Shop, bow: Bow) -> None:
        before = lives(bow)
        record.put_place(
            by=shop.owner, site=shop.site, name="Rack", temperature_source="fixed", fixed_temperature_c=5.0
        )
        assert is_exact(bow)
        assert all(lives(bow)[pk] < life for pk, life in before.items())


class TestCordsThatMoved:
    def move(self, shop: personas.Shop, fitting: Fitting, to: Bow, days_ago: float) -> Fitting:
        at = personas.before(days_ago)
        record.remove_cord(by=shop.technician, fitting=fitting, at=at, why="planned", now=NOW)
        return personas.fit(shop, to, fitting.cord, days_ago=days_ago)

    def test_a_late_entry_of_the_former_bow_reaches_the_cord_where_it_is(self, shop: personas.Shop, bow: Bow) -> None:
        other = personas.bare_bow(shop, bow.spec_sheet, "L-2")
        self.move(shop, bow.fittings.get(position="string"), other, 20.0)
        before = lives(other)
        personas.shoot(shop, bow, 200, days_ago=50.0)
        assert not waiting()
        assert is_exact(other)
        assert is_exact(bow)
        assert [lives(other)[pk] - life for pk, life in before.items()] == [pytest.approx(200 / 5_000)]

    def test_a_late_entry_of_a_cords_first_time_on_the_bow_it_came_back_to(self, shop: personas.Shop, bow: Bow) -> None:
        other = personas.bare_bow(shop, bow.spec_sheet, "L-2")
        there = self.move(shop, bow.fittings.get(position="string"), other, 20.0)
        self.move(shop, there, bow, 10.0)
        before = lives(bow)
        personas.shoot(shop, bow, 200, days_ago=50.0)
        assert is_exact(bow)
        assert all(lives(bow)[pk] - life == pytest.approx(200 / 5_000) for pk, life in before.items())


class TestClocksAhead:
    """The register takes facts up to five minutes ahead of its own clock."""

    AHEAD = NOW + timedelta(seconds=240)

    def test_a_cord_fitted_ahead_brings_its_prior_use_when_its_time_comes(self, shop: personas.Shop, bow: Bow) -> None:
        old = bow.fittings.get(position="string")
        record.remove_cord(by=shop.technician, fitting=old, at=self.AHEAD, why="planned", now=NOW)
        cord = personas.cord(shop, old.cord.spec, prior_use="known", prior_shots=1_000.0, prior_tension_h=50.0)
        new = record.fit_cord(
            by=shop.technician, cord=cord, bow=bow, position="string", at=self.AHEAD, now=NOW, half_twists=40
        )
        assert lives(bow)[new.pk] == 0.0
        self._an_entry_an_hour_later(shop, bow)
        assert CordWear.objects.get(fitting=new).shots_weighted == pytest.approx(1_010.0)

    def test_a_reset_ahead_counts_from_its_own_time(self, shop: personas.Shop, bow: Bow) -> None:
        fitting = bow.fittings.get(position="string")
        record.reset_cord(by=shop.technician, fitting=fitting, at=self.AHEAD)
        self._an_entry_an_hour_later(shop, bow)
        assert CordWear.objects.get(fitting=fitting).reset_at == self.AHEAD

    @staticmethod
    def _an_entry_an_hour_later(shop: personas.Shop, bow: Bow) -> None:
        later = NOW + timedelta(hours=1)
        with time_machine.travel(later, tick=False):
            record.add_shots(
                by=shop.counter, bow=bow, start=later - timedelta(minutes=30), end=later, count=10, how_known="counter",
                key="later", now=later,
            )  # fmt: skip
        assert lives(bow) == pytest.approx(full(bow, later), abs=1e-9)
