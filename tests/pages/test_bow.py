"""One bow's page: the answer first, needs, cords with wear, its own setting, results, what happened to it."""

from collections.abc import Callable

import pytest
from django.test import Client

from fleet import record
from fleet.models import Bow
from service import decide
from service.history import told
from service.models import CordWear
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import Shop


@pytest.fixture
def bow(shop: Shop) -> Bow:
    found = personas.fitted_bow(shop, "hybrid", "L-920")
    personas.shoot(shop, found, 800, days_ago=10)
    decide.rebuild(personas.NOW)
    return found


def test_every_cord_shows_its_life_in_words_and_as_a_bar(
    bow: Bow, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    page = Page(signed_in(shop.counter).get("/bows/L-920/"))
    html = signed_in(shop.counter).get("/bows/L-920/").content.decode()
    for wear in CordWear.objects.filter(fitting__bow=bow):
        assert f"{wear.life_used:.2f}" in page.words
        assert f'role="img" aria-label="{wear.reason}"' in html
        assert wear.fitting.cord.serial in page.text


def test_the_reference_card_reads_in_the_sites_units(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    words = Page(signed_in(shop.counter).get("/bows/L-920/")).words
    assert "33 in" in words
    assert "±1/8 in" in words
    record.put_site(by=shop.owner, code=shop.site.code, units="metric")
    words = Page(signed_in(shop.counter).get("/bows/L-920/")).words
    assert "838 mm" in words  # 33 in = 838.2 mm, and a metric rule is read to 0.5 mm


def test_times_are_the_sites_own(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    """Shots of ten days before 15:00 UTC on 1 July: 9 in the morning in Denver (UTC-6 in summer), 5 p.m. in Zurich."""
    client = signed_in(shop.counter)
    assert "June 21, 2026, 9:00 AM" in Page(client.get("/bows/L-920/")).words
    record.put_site(by=shop.owner, code=shop.site.code, time_zone="Europe/Zurich")
    assert "June 21, 2026, 5:00 PM" in Page(client.get("/bows/L-920/")).words


def test_the_counter_sees_no_button_of_the_bench(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    assert "Issue an order for today" not in Page(signed_in(shop.counter).get("/bows/L-920/")).text
    assert "Issue an order for today" in Page(signed_in(shop.technician).get("/bows/L-920/")).text


def test_an_order_can_be_issued_from_it_once(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.technician)
    assert client.post("/bows/L-920/issue/")["Location"].startswith("/orders/")
    again = client.post("/bows/L-920/issue/", follow=True)
    assert again.redirect_chain[-1][0] == "/bows/L-920/"
    assert "L-920 has an open order" in Page(again).text
    assert "Open order" in Page(again).text


def test_a_bow_without_references_or_with_a_cord_missing_says_so(shop: Shop, signed_in: Callable[..., Client]) -> None:
    personas.bare_bow(shop, personas.spec_sheet(shop.owner, "single"), "L-921")
    page = Page(signed_in(shop.counter).get("/bows/L-921/"))
    assert "No reference measurements on record" in page.text
    assert "No buss cable is on record as fitted" in page.text


def test_signed_results_and_removed_cords_stay_readable(shop: Shop, signed_in: Callable[..., Client]) -> None:
    bow = orders.worn_bow(shop)
    order = orders.issued(shop, bow)
    signed_in(shop.technician).post(
        f"/orders/{order.number}/", {"action": "sign", **orders.on_reference(order), **orders.new_set(order)}
    )
    signed_in(shop.manager).post(f"/orders/{order.number}/", {"action": "release"})
    page = Page(signed_in(shop.counter).get(f"/bows/{bow.tag}/"))
    assert order.number in page.words
    assert "released by Larkspur Manager" in page.text
    assert "NEW-string" in page.text
    assert "Cords that were on it" in page.words


def test_the_history_reads_in_words_and_local_time(shop: Shop, bow: Bow) -> None:
    entry = bow.audit.filter(verb="add_shots").get()
    assert told(entry, "America/Denver").startswith("add shots: count 800, start June 21, 2026, 9:00 AM")


def test_what_changed_reads_before_and_after(shop: Shop, bow: Bow) -> None:
    record.put_bow(by=shop.manager, tag=bow.tag, spec_sheet=bow.spec_sheet, serial="NEW-1")
    entry = bow.audit.filter(verb="put_bow").first()
    assert entry is not None
    assert f"serial {bow.serial} → NEW-1" in told(entry, "UTC")


def test_wear_of_a_cord_taken_off_is_not_shown(shop: Shop, bow: Bow, signed_in: Callable[..., Client]) -> None:
    fitting = bow.fittings.get(position="string")
    record.remove_cord(by=shop.technician, fitting=fitting, at=personas.NOW, why="planned", now=personas.NOW)
    page = Page(signed_in(shop.counter).get("/bows/L-920/"))
    assert "No string is on record as fitted" in page.text
    assert "Cords that were on it" in page.words
