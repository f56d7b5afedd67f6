"""Where a bow was: stays and relaxations never overlap, by the verb and by the database itself."""

from datetime import datetime

import pytest
from django.db import IntegrityError, transaction

from fleet import record
from fleet.models import Bow, Place, Relaxation, Stay, TemperatureReading, VehicleParking
from fleet.record import Refused
from tests import personas
from tests.personas import NOW, Shop, before


@pytest.fixture
def roaming(shop: Shop) -> Bow:
    """A bow with no stay recorded yet."""
    return personas.bare_bow(shop, personas.spec_sheet(shop.owner), "L-R1")


def stay(shop: Shop, bow: Bow, start: datetime, end: datetime | None) -> Stay:
    return record.add_stay(by=shop.counter, bow=bow, place=shop.rack, start=start, end=end, now=NOW)


# Around a stay from 20 to 10 days ago: each of these shares time with it.
OVERLAPS = [
    (before(15), before(12)),  # within
    (before(25), before(5)),  # around
    (before(25), before(19)),  # over its begin
    (before(11), before(5)),  # over its end
    (before(25), None),  # open, from before
    (before(15), None),  # open, from within
    (before(20), before(10)),  # the same span elsewhere
]
CLEAR = [
    (before(30), before(20)),  # ends as it begins
    (before(10), before(5)),  # begins as it ends
    (before(10), None),
    (before(40), before(30)),
]


@pytest.mark.parametrize(("start", "end"), OVERLAPS)
def test_overlapping_stays_are_refused(shop: Shop, roaming: Bow, start: datetime, end: datetime | None) -> None:
    locker = record.put_place(
        by=shop.owner, site=shop.site, name="Locker", temperature_source="fixed", fixed_temperature_c=20
    )
    stay(shop, roaming, before(20), before(10))

    with pytest.raises(
        Refused, match=r"L-R1 was at Rack from 2026-06-11 15:00 UTC to 2026-06-21 15:00 UTC, which overlaps"
    ):
        record.add_stay(by=shop.counter, bow=roaming, place=locker, start=start, end=end, now=NOW)


@pytest.mark.parametrize(("start", "end"), OVERLAPS)
def test_the_database_itself_refuses_overlapping_stays(
    shop: Shop, roaming: Bow, start: datetime, end: datetime | None
) -> None:
    stay(shop, roaming, before(20), before(10))

    with pytest.raises(IntegrityError), transaction.atomic():
        Stay.objects.create(bow=roaming, place=shop.rack, start=start, end=end)


@pytest.mark.parametrize(("start", "end"), CLEAR)
def test_stays_that_only_touch_are_kept(shop: Shop, roaming: Bow, start: datetime, end: datetime | None) -> None:
    stay(shop, roaming, before(20), before(10))

    stay(shop, roaming, start, end)

    assert Stay.objects.filter(bow=roaming).count() == 2


def test_the_database_refuses_an_end_moved_into_the_next_stay(shop: Shop, roaming: Bow) -> None:
    first = stay(shop, roaming, before(20), before(10))
    stay(shop, roaming, before(10), None)

    with pytest.raises(IntegrityError), transaction.atomic():
        Stay.objects.filter(pk=first.pk).update(end=before(9))
    Stay.objects.filter(pk=first.pk).update(end=before(11))


def test_another_bow_may_be_there_at_the_same_time(shop: Shop, roaming: Bow) -> None:
    other = personas.bare_bow(shop, roaming.spec_sheet, "L-R2")
    stay(shop, roaming, before(20), before(10))

    stay(shop, other, before(20), before(10))

    assert Stay.objects.filter(place=shop.rack).count() == 2


def test_the_same_stay_again_is_the_same_entry(shop: Shop, roaming: Bow) -> None:
    assert stay(shop, roaming, before(20), None) == stay(shop, roaming, before(20), None)


def test_moving_ends_one_stay_and_begins_the_next(shop: Shop, roaming: Bow) -> None:
    trailer = record.put_place(by=shop.owner, site=shop.site, name="Trailer", temperature_source="logger")
    first = stay(shop, roaming, before(20), None)

    second = record.move_to_place(by=shop.counter, bow=roaming, place=trailer, at=before(3), now=NOW)

    first.refresh_from_db()
    assert (first.end, second.start, second.end, second.place) == (before(3), before(3), None, trailer)
    assert record.move_to_place(by=shop.counter, bow=roaming, place=trailer, at=NOW, now=NOW) == second


def test_a_stay_backwards_or_in_the_future_is_refused(shop: Shop, roaming: Bow) -> None:
    with pytest.raises(
        Refused, match=r"the stay ends at 2026-06-11 15:00 UTC, not after its begin 2026-06-21 15:00 UTC: swap"
    ):
        stay(shop, roaming, before(10), before(20))
    with pytest.raises(Refused, match=r"the stay begins 2026-07-02 15:00 UTC lies in the future"):
        stay(shop, roaming, before(-1), None)


def relax(shop: Shop, bow: Bow, start: datetime, end: datetime | None, why: str = "unstrung") -> Relaxation:
    return record.relax(by=shop.technician, bow=bow, start=start, end=end, why=why, now=NOW)


@pytest.mark.parametrize(("start", "end"), OVERLAPS[:-1])
def test_relaxations_do_not_overlap_either(shop: Shop, roaming: Bow, start: datetime, end: datetime | None) -> None:
    relax(shop, roaming, before(20), before(10))

    with pytest.raises(
        Refused, match=r"was relaxed \(unstrung\) from 2026-06-11 15:00 UTC to 2026-06-21 15:00 UTC already"
    ):
        relax(shop, roaming, start, end)
    with pytest.raises(IntegrityError), transaction.atomic():
        Relaxation.objects.create(bow=roaming, start=start, end=end, why="press")


def test_unstrung_until_strung_up(shop: Shop, roaming: Bow) -> None:
    entry = relax(shop, roaming, before(5), None)
    assert relax(shop, roaming, before(5), None) == entry

    record.string_up(by=shop.technician, bow=roaming, at=before(1), now=NOW)

    entry.refresh_from_db()
    assert entry.end == before(1)
    with pytest.raises(Refused, match=r"L-R1 is not recorded as relaxed: there is nothing to end"):
        record.string_up(by=shop.technician, bow=roaming, at=NOW, now=NOW)


def park(shop: Shop, bow: Bow, key: str = "p-1", **changes: object) -> VehicleParking:
    given = {"start": before(1), "end": before(1, hours=-4), "outside_c": 33.0}
    return record.park_in_vehicle(by=shop.counter, bow=bow, key=key, now=NOW, **{**given, **changes})  # type: ignore[arg-type]


def test_parked_in_a_vehicle_once(shop: Shop, roaming: Bow) -> None:
    assert park(shop, roaming) == park(shop, roaming)

    with pytest.raises(Refused, match=r"key 'p-1' was used for another entry, whose end is"):
        park(shop, roaming, end=before(1, hours=-5))
    with pytest.raises(Refused, match=r"was in a vehicle from 2026-06-30 15:00 UTC to 2026-06-30 19:00 UTC already"):
        park(shop, roaming, key="p-2")


def test_a_parking_needs_a_plausible_temperature(shop: Shop, roaming: Bow) -> None:
    with pytest.raises(Refused, match=r"give the outside temperature, or the cabin's if it was measured"):
        park(shop, roaming, outside_c=None)
    with pytest.raises(Refused, match=r"outside temperature 91 degC is outside -50 to 60 degC"):
        park(shop, roaming, outside_c=91.0)
    with pytest.raises(IntegrityError), transaction.atomic():
        VehicleParking.objects.create(bow=roaming, start=before(1), end=NOW, key="p-9")


def test_a_place_has_one_reading_per_instant(shop: Shop) -> None:
    TemperatureReading.objects.create(place=shop.rack, at=NOW, celsius=21.0)

    with pytest.raises(IntegrityError), transaction.atomic():
        TemperatureReading.objects.create(place=shop.rack, at=NOW, celsius=22.0)


def test_a_fixed_place_needs_its_temperature(shop: Shop) -> None:
    with pytest.raises(Refused, match=r"place Locker: a fixed place needs its temperature in degC"):
        record.put_place(by=shop.owner, site=shop.site, name="Locker", temperature_source="fixed")
    with pytest.raises(IntegrityError), transaction.atomic():
        Place.objects.create(site=shop.site, name="Locker", temperature_source="fixed")
