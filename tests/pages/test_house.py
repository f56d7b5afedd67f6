"""The house's forms read a record as a file's row is read; the first steps follow the data."""

from collections.abc import Callable

import pytest
from django.test import Client

from fleet import lookups, record
from fleet.models import Bow, Person, Place, Site
from service.first_steps import first_steps
from tests import personas
from tests.pages import orders
from tests.pages.conftest import BACKEND
from tests.pages.reading import Page
from tests.personas import INCH_M, POUND_N, Shop


def test_a_place_is_added_and_changed(shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.manager)
    typed = {"site": "larkspur", "name": "Trailer", "temperature_source": "fixed", "fixed_temperature_f": "70"}
    response = client.post("/house/places/new/", typed, follow=True)
    assert "Add a place: kept." in Page(response).text
    place = Place.objects.get(name="Trailer")
    assert place.fixed_temperature_c == pytest.approx((70 - 32) / 1.8)
    page = Page(client.get("/house/places/Trailer/change/"))
    assert page.value("fixed_temperature_f") == "70"
    client.post("/house/places/Trailer/change/", {"site": "larkspur", "temperature_source": "logger", "name": "Other"})
    place.refresh_from_db()
    assert (place.temperature_source, place.name) == ("logger", "Trailer")


def test_a_slip_stands_beside_its_field_with_what_was_typed(shop: Shop, signed_in: Callable[..., Client]) -> None:
    personas.spec_sheet(shop.owner, "single")
    typed = {
        "tag": "L-931",
        "spec_sheet": "TV-single",
        "hand": "right",
        "site": "larkspur",
        "in_service_on": "2026-05-01",
        "draw_length_in": "280",
        "peak_weight_lb": "40",
    }
    response = signed_in(shop.manager).post("/house/bows/new/", typed)
    assert response.status_code == 422
    page = Page(response)
    assert "Nothing was kept yet." in page.text
    assert "280 in is above the range" in page.text
    assert page.control("draw_length_in")["aria-describedby"] == "e-draw_length_in"
    assert page.value("draw_length_in") == "280"
    assert not Bow.objects.exists()


def test_a_bow_is_added_with_its_set_up_in_the_sites_units(shop: Shop, signed_in: Callable[..., Client]) -> None:
    personas.spec_sheet(shop.owner, "single")
    client = signed_in(shop.manager)
    typed = {
        "tag": "L-932",
        "spec_sheet": "TV-single",
        "hand": "left",
        "site": "larkspur",
        "in_service_on": "2026-05-01",
        "draw_length_in": "28 1/2",
        "peak_weight_lb": "45",
        "again": "1",
    }
    assert client.post("/house/bows/new/", typed)["Location"] == "/house/bows/new/"
    set_up = lookups.set_up_at(Bow.objects.get(tag="L-932"), personas.NOW)
    assert set_up is not None
    assert (set_up.draw_length_m, set_up.peak_weight_n) == pytest.approx((28.5 * INCH_M, 45 * POUND_N))
    # Kept again as it stands, the record is the one that is there.
    controls = Page(client.get("/house/bows/L-932/change/")).controls
    known = {one["name"]: one["value"] for one in controls if "value" in one and "name" in one}
    client.post("/house/bows/L-932/change/", {**known, "spec_sheet": "TV-single", "hand": "left", "site": "larkspur"})
    assert Bow.objects.get().set_ups.count() == 1


def test_a_metric_site_types_millimetres(camp: Shop, signed_in: Callable[..., Client]) -> None:
    names = {one["name"] for one in Page(signed_in(camp.manager).get("/house/bows/new/")).controls if "name" in one}
    assert {"draw_length_mm", "peak_weight_n"} <= names


def test_a_form_cannot_reach_another_site(shop: Shop, camp: Shop, signed_in: Callable[..., Client]) -> None:
    typed = {"name": "Rack", "site": "ridgecamp", "temperature_source": "fixed", "fixed_temperature_f": "99"}
    response = signed_in(shop.manager).post("/house/places/new/", typed)
    assert "It belongs to a site at which you are not a manager." in Page(response).text
    assert camp.rack.temperature_source == "logger"
    assert signed_in(camp.manager).get("/house/tools/larkspur-rule/change/").status_code == 404


def test_a_person_gets_a_role_and_a_password(shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.owner)
    typed = {"username": "wren", "display_name": "Wren Aldous", "role": "technician", "site": "larkspur"}
    client.post("/house/people/new/", {**typed, "skills": "press timing", "bench_minutes_mon": "240"})
    wren = Person.objects.get(username="wren")
    assert lookups.role_at(wren, shop.site) == "technician"
    assert set(wren.skills.values_list("skill", flat=True)) == {"press", "timing"}
    weak = client.post("/house/people/wren/password/", {"password": "1234567890"})
    assert weak.status_code == 422
    client.post("/house/people/wren/password/", {"password": "copper-limb-77"})
    wren.refresh_from_db()
    assert wren.check_password("copper-limb-77")
    assert lookups.role_at(wren, shop.site) == "technician"


def test_a_kind_without_a_form_says_to_take_a_file(shop: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(shop.manager).get("/house/references/new/")
    assert response.status_code == 404
    assert "take a file in" in response.content.decode()


def test_a_bow_moves_and_retires_only_when_nothing_is_open(
    shop: Shop, camp: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    bow = personas.fitted_bow(shop, "single")
    computed()
    order = orders.issued(shop, bow)
    client = signed_in(shop.owner)
    for address, typed in (("move", {"site": "ridgecamp"}), ("retire", {"why": "sold"})):
        response = client.post(f"/bows/{bow.tag}/{address}/", typed, follow=True)
        assert f"open order {order.number}" in Page(response).text
    client.post(f"/orders/{order.number}/", {"action": "cancel", "why": "sold instead"})
    client.post(f"/bows/{bow.tag}/move/", {"site": "ridgecamp"})
    bow.refresh_from_db()
    assert bow.site == camp.site
    client.post(f"/bows/{bow.tag}/retire/", {"why": ""})
    assert lookups.state_of(bow) != "retired"
    client.post(f"/bows/{bow.tag}/retire/", {"why": "limb cracked"})
    assert lookups.state_of(bow) == "retired"


def test_a_manager_of_one_site_sends_no_bow_elsewhere(shop: Shop, camp: Shop, signed_in: Callable[..., Client]) -> None:
    bow = personas.fitted_bow(shop, "single")
    response = signed_in(shop.manager).post(f"/bows/{bow.tag}/move/", {"site": "ridgecamp"})
    assert "one at which you are a manager" in Page(response).text
    bow.refresh_from_db()
    assert bow.site == shop.site


@pytest.mark.django_db
def test_an_empty_book_leads_its_owner_to_the_first_site() -> None:
    owner = record.found_book(username="jo", display_name="Jo", password=personas.PASSWORD)
    client = Client()
    client.force_login(owner, backend=BACKEND)
    assert client.get("/", follow=True).redirect_chain[-1][0] == "/first-site/"
    typed = {"code": "wold", "name": "Wold Range", "time_zone": "Europe/Lisbon", "units": "metric"}
    assert "Nothing was kept yet." in Page(client.post("/first-site/", {**typed, "time_zone": "Europe/Nowhere"})).text
    response = client.post("/first-site/", typed, follow=True)
    assert response.redirect_chain[-1][0] == "/first-steps/"
    assert Site.objects.get().code == "wold"
    assert "0 of 11 needed steps are done" in Page(response).text


def test_the_steps_tick_off_as_the_book_fills(
    shop: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    def done() -> set[str]:
        return {str(step.title) for step in first_steps(shop.site).steps if step.done}

    assert done() == {"Places", "People at the bench", "Presses", "Measuring tools"}
    record.put_site(by=shop.owner, code=shop.site.code, labour_rate_per_hour=40)
    shop.site.refresh_from_db()
    bow = personas.bare_bow(shop, personas.spec_sheet(shop.owner, kind="recurve"))
    assert {"The site and its house settings", "Makes of cord", "Makes of bow", "Bows"} <= done()
    cords = next(step for step in first_steps(shop.site).steps if step.kind == "cords")
    assert (cords.done, cords.lacking) == (False, 1)
    personas.fit(shop, bow, personas.cord(shop, personas.cord_spec(shop.owner)))
    personas.references(shop, bow)
    computed()
    steps = first_steps(shop.site)
    assert steps.next is not None
    assert str(steps.next.title) == "The first order is issued"
    orders.issued(shop, bow)
    assert first_steps(shop.site).next is None
    assert "The book is under way: print the queue." in Page(signed_in(shop.manager).get("/first-steps/")).text
