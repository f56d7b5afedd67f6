"""Bookings, and the one table of guests' names: erased in time, and nothing else with it."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, transaction

from fleet import record
from fleet.models import AuditEntry, AuditHead, Booking, Bow, GuestName
from fleet.record import Refused
from tests.personas import NOW, Shop, before

NAME = "Wilhelmina Quade"
AUDITED = (GuestName, AuditEntry, AuditHead)


def book(shop: Shop, reference: str = "B-1", **changes: object) -> Booking:
    given: dict[str, Any] = {"start": before(-1), "end": before(-1, hours=-2), "hand": "right", "expected_shots": 45}
    return record.put_booking(by=shop.counter, site=shop.site, reference=reference, **{**given, **changes})


def everything() -> dict[str, list[dict[str, Any]]]:
    """Every row of the register but the guests' names and the audit trail."""
    kept = [model for model in apps.get_app_config("fleet").get_models() if model not in AUDITED]
    return {model.__name__: list(model._default_manager.order_by("pk").values()) for model in kept}


def test_a_booking_names_the_bow_or_what_the_guest_needs(shop: Shop, bow: Bow) -> None:
    book(shop, "B-1", bow=bow, hand="")
    book(shop, "B-2", draw_length_m=0.71, peak_weight_min_n=130.0, peak_weight_max_n=180.0)

    with pytest.raises(Refused, match=r"B-3: name the very bow by its tag, or the hand that the guest needs"):
        book(shop, "B-3", hand="")


def test_a_booking_can_be_moved_by_its_reference(shop: Shop, bow: Bow) -> None:
    book(shop, bow=bow, hand="")

    moved = record.put_booking(
        by=shop.counter, site=shop.site, reference="B-1", start=before(-2), end=before(-2, hours=-2)
    )

    assert Booking.objects.get() == moved
    assert (moved.start, moved.bow) == (before(-2), bow)


def test_a_reference_names_one_booking(shop: Shop) -> None:
    book(shop)
    with pytest.raises(IntegrityError), transaction.atomic():
        Booking.objects.create(site=shop.site, reference="B-1", start=NOW, end=before(-1), hand="right")


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"end": before(2)}, r"B-1: the booking ends at .* not after its begin .*: swap them"),
        ({"start": before(-1).replace(tzinfo=None)}, r"B-1: the begin 2026-07-02 15:00:00 has no time zone"),
        ({"hand": "both"}, r"B-1: hand 'both' is not one of right, left"),
        ({"draw_length_m": 28.0}, r"draw length 28 m is outside 0\.3 to 0\.95 m: check the unit"),
        ({"peak_weight_min_n": 200.0, "peak_weight_max_n": 150.0}, r"peak weight runs from 200 to 150 N: the smaller"),
        ({"expected_shots": -1}, r"shots -1 shots in one entry is outside 0 to 5000"),
    ],
)
def test_bookings_that_cannot_be_are_refused(shop: Shop, changes: dict[str, Any], text: str) -> None:
    with pytest.raises(Refused, match=text):
        book(shop, **changes)
    assert not Booking.objects.exists()


def test_names_are_erased_after_the_sites_days_and_nothing_else_is(shop: Shop, bow: Bow) -> None:
    book(shop, "B-1", bow=bow, guest_name=NAME, start=before(40), end=before(40, hours=-2))
    book(shop, "B-2", guest_name="Tobias Ferncroft", start=before(5), end=before(5, hours=-2))
    kept = everything()
    noted = kept.pop("Erasure")

    erased = record.erase_guest_names(by=shop.manager, today=NOW.date())

    assert erased == 1
    assert [name.booking.reference for name in GuestName.objects.all()] == ["B-2"]
    after = everything()
    assert [one for one in after.pop("Erasure") if one not in noted], "a restore of an older backup erases it again"
    assert after == kept


def test_a_name_goes_on_the_day_that_the_site_set(shop: Shop) -> None:
    # The booking ends at 17:00 UTC on 1 July in Denver, a site that keeps names for 30 days.
    book(shop, guest_name=NAME, start=NOW, end=before(hours=-2))
    assert GuestName.objects.get().erase_on == date(2026, 7, 31)

    assert record.erase_guest_names(by=shop.manager, today=date(2026, 7, 30)) == 0
    assert record.erase_guest_names(by=shop.manager, today=date(2026, 7, 31)) == 1


def test_the_last_day_is_the_sites_own(shop: Shop) -> None:
    # 04:00 UTC on 3 July is still the evening of 2 July in Denver.
    book(shop, guest_name=NAME, start=before(-1), end=NOW + timedelta(days=1, hours=13))

    assert GuestName.objects.get().erase_on == date(2026, 8, 1)


def test_no_name_ever_reaches_the_audit_trail_or_another_table(shop: Shop, bow: Bow) -> None:
    booking = book(shop, guest_name=NAME)
    book(shop, guest_name="Wilhelmina Quade-Ferncroft")
    record.hand_out(by=shop.counter, bow=bow, reference=booking.reference, booking=booking, at=NOW, known={})
    record.take_back(by=shop.counter, bow=bow, at=NOW)
    record.cancel_booking(by=shop.counter, booking=booking, at=NOW)

    assert "Wilhelmina" not in repr(everything())
    assert "Wilhelmina" not in repr(list(AuditEntry.objects.values()))
    assert AuditEntry.objects.filter(verb="put_booking").count() == 2


def test_a_cancelled_booking_stays_in_the_book(shop: Shop) -> None:
    booking = book(shop)
    record.cancel_booking(by=shop.counter, booking=booking, at=NOW)
    record.cancel_booking(by=shop.counter, booking=booking, at=before(-1))

    booking.refresh_from_db()
    assert booking.cancelled_at == NOW
