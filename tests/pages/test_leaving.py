"""The page on which a person's sign-in is closed and their name erased; a guest's name erased when they ask."""

from collections.abc import Callable

import pytest
from django.test import Client

from fleet import record
from fleet.models import AuditEntry, Bow, Departure, GuestName, Person
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import NOW, Shop

ADDRESS = "/house/people/larkspur-technician/leaving/"


@pytest.fixture
def owner(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    return signed_in(shop.owner)


@pytest.fixture
def bow(shop: Shop) -> Bow:
    """A bow whose references the technician took."""
    return orders.worn_bow(shop)


def test_closing_the_sign_in_says_when_the_name_goes_and_can_be_taken_back(owner: Client, shop: Shop, bow: Bow) -> None:
    said = Page(owner.post(ADDRESS, {"action": "close"}, follow=True)).text
    assert "cannot sign in any more" in said
    assert Departure.objects.get().person == shop.technician
    assert "Larkspur Technician" in Page(owner.get("/house/")).text
    owner.post(ADDRESS, {"action": "let_in"})
    assert Person.objects.get(pk=shop.technician.pk).is_active


def test_a_signed_name_is_erased_for_a_reason_alone(owner: Client, shop: Shop, bow: Bow) -> None:
    assert "this house keeps until" in Page(owner.post(ADDRESS, {"action": "erase", "sure": "on"})).text
    assert "Tick that you are sure" in Page(owner.post(ADDRESS, {"action": "erase", "forced_because": "asked"})).text
    given = {"action": "erase", "sure": "on", "forced_because": "asked", "also": "Larky, L. Tech"}
    record.hold(by=shop.manager, bow=bow, reason="person", detail="Larky saw a fray", since=NOW)
    said = Page(owner.post(ADDRESS, given, follow=True)).text
    assert f"person {shop.technician.pk} stands on all that they did" in said
    page = Page(owner.get(f"/bows/{bow.tag}/life/")).text
    assert f"person {shop.technician.pk}" in page and "Larkspur Technician" not in page and "Larky" not in page


def test_an_issued_order_prints_the_number(owner: Client, shop: Shop, bow: Bow, computed: Callable[[], int]) -> None:
    computed()
    order = orders.issued(shop, bow)
    owner.post(ADDRESS, {"action": "erase", "sure": "on", "forced_because": "asked"})
    order.refresh_from_db()
    assert "Larkspur Technician" not in str(order.frozen)
    assert owner.get(f"/orders/{order.number}/").status_code == 200
    from service.orders.paper import sheet_of

    reference = sheet_of(order).reference
    assert reference is not None and reference.taken_by == f"person {shop.technician.pk}"


def test_a_guests_name_is_erased_when_they_ask(shop: Shop, signed_in: Callable[..., Client]) -> None:
    start, end = personas.before(-1), personas.before(-2)
    booking = record.put_booking(
        by=shop.owner, site=shop.site, reference="B-7", start=start, end=end, hand="right", guest_name="Ada Byrne"
    )
    manager = signed_in(shop.manager)
    assert "Erase the name now" in Page(manager.get(f"/guests/{booking.pk}/")).text
    manager.post(f"/guests/{booking.pk}/erase/")
    assert not GuestName.objects.exists()
    assert AuditEntry.objects.filter(verb="erase_guest_name").count() == 1
    assert "Erase the name now" not in Page(signed_in(shop.counter).get(f"/guests/{booking.pk}/")).text
