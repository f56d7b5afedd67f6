"""A bow is promised to one guest at a time, by the verbs and by the database."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from fleet import record
from fleet.models import AuditEntry, Booking, Bow
from fleet.record import Refused
from tests import personas
from tests.personas import NOW, Shop, before

HOUR = timedelta(hours=1)


def book(shop: Shop, reference: str, from_hour: int, hours: int = 2, **changes: object) -> Booking:
    start = before(-1) + from_hour * HOUR
    given: dict[str, Any] = {"start": start, "end": start + hours * HOUR, "expected_shots": 45}
    return record.put_booking(by=shop.counter, site=shop.site, reference=reference, **{**given, **changes})


@pytest.mark.parametrize(("from_hour", "hours"), [(0, 2), (1, 1), (-1, 2), (-1, 9), (1, 9)])
def test_two_guests_at_one_time_are_refused_with_who_has_it(shop: Shop, bow: Bow, from_hour: int, hours: int) -> None:
    book(shop, "B-1", 0, bow=bow)
    # 15:00 UTC on 2 July is 09:00 in Denver.
    with pytest.raises(
        Refused, match=r"B-2: L-T1 is promised under B-1 from 2026-07-02 09:00 MDT to 2026-07-02 11:00 MDT:"
    ):
        book(shop, "B-2", from_hour, hours, bow=bow)
    assert Booking.objects.count() == 1


@pytest.mark.parametrize("from_hour", [-2, 2])
def test_one_guest_may_follow_the_other_on_the_hour(shop: Shop, bow: Bow, from_hour: int) -> None:
    book(shop, "B-1", 0, bow=bow)
    assert book(shop, "B-2", from_hour, bow=bow).bow == bow


def test_a_booking_may_be_moved_within_its_own_time(shop: Shop, bow: Bow) -> None:
    book(shop, "B-1", 0, bow=bow)
    assert book(shop, "B-1", 1, bow=bow).start == before(-1) + HOUR


def test_a_cancelled_booking_lets_its_bow_go(shop: Shop, bow: Bow) -> None:
    record.cancel_booking(by=shop.counter, booking=book(shop, "B-1", 0, bow=bow), at=NOW)
    assert book(shop, "B-2", 0, bow=bow).bow == bow


@pytest.mark.parametrize("changes", [{"bow": None}, {"cancelled_at": NOW}, {}])
def test_the_database_holds_it_too(shop: Shop, bow: Bow, changes: dict[str, Any]) -> None:
    book(shop, "B-1", 0, bow=bow)
    row = {"site": shop.site, "reference": "B-2", "start": before(-1), "end": before(-1) + HOUR, "bow": bow, **changes}
    if changes:
        Booking.objects.create(**row)
        return
    with pytest.raises(IntegrityError), transaction.atomic():
        Booking.objects.create(**row)


def test_the_database_holds_it_on_a_change_too(shop: Shop, bow: Bow) -> None:
    book(shop, "B-1", 0, bow=bow)
    other = book(shop, "B-2", 0, hand="right")
    with pytest.raises(IntegrityError), transaction.atomic():
        Booking.objects.filter(pk=other.pk).update(bow=bow)


def test_a_promise_gives_a_bow_and_takes_it_back(shop: Shop, bow: Bow) -> None:
    booking = book(shop, "B-1", 0, hand="right")
    assert record.promise_bow(by=shop.counter, booking=booking, bow=bow).bow == bow
    record.promise_bow(by=shop.counter, booking=booking, bow=bow)
    assert AuditEntry.objects.filter(verb="promise_bow").count() == 1
    assert record.promise_bow(by=shop.counter, booking=booking, bow=None).bow is None


def test_promises_that_cannot_be_are_refused(shop: Shop, bow: Bow) -> None:
    booking, by_name = book(shop, "B-1", 0, hand="right"), book(shop, "B-2", 5, bow=bow)
    camp = record.put_site(by=shop.owner, code="camp", name="Camp", time_zone="Europe/Oslo")
    elsewhere = personas.bare_bow(shop, bow.spec_sheet, "L-X", site=camp)
    retired = personas.bare_bow(shop, bow.spec_sheet, "L-R")
    record.retire(by=shop.manager, bow=retired, at=NOW, why="limb")
    with pytest.raises(Refused, match=r"L-X is at Camp, B-1 is at Larkspur Range"):
        record.promise_bow(by=shop.counter, booking=booking, bow=elsewhere)
    with pytest.raises(Refused, match=r"L-R is retired"):
        record.promise_bow(by=shop.counter, booking=booking, bow=retired)
    with pytest.raises(Refused, match=r"B-2 asks for its very bow and for nothing else"):
        record.promise_bow(by=shop.counter, booking=by_name, bow=None)
    book(shop, "B-3", 0, bow=bow)
    with pytest.raises(Refused, match=r"B-1: L-T1 is promised under B-3"):
        record.promise_bow(by=shop.counter, booking=booking, bow=bow)
    record.cancel_booking(by=shop.counter, booking=booking, at=NOW)
    with pytest.raises(Refused, match=r"B-1 was cancelled"):
        record.promise_bow(by=shop.counter, booking=booking, bow=bow)
