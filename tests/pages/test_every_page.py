"""What holds for every page: no inline script or style, a name for every control, one heading, a language, a policy."""

import re
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client

from fleet import record
from fleet.models import Bow
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import Shop
from tests.turnaround.typed import fine

NASTY = "<img src=x onerror=alert(1)>"


def desk_pages(owner: Client, shop: Shop, bow: Bow) -> dict[str, HttpResponse]:
    """The desk's pages; what a person typed stands in each that shows such a thing."""
    record.save_view(by=shop.owner, page="due", name=NASTY[:40], query="kind=compound")
    action = record.hold_many(by=shop.owner, site=shop.site, bows=[bow], detail=NASTY, picked=NASTY, at=personas.NOW)
    return {
        "due, narrowed": owner.get("/due/", {"kind": "compound", "from": NASTY}),
        "find": owner.get("/find/", {"find": "LOT-A"}),
        "find, as typed": owner.get("/find/", {"find": NASTY, "all": "1"}),
        "fleet": owner.get("/fleet/"),
        "costs": owner.get("/costs/"),
        "life": owner.get(f"/bows/{bow.tag}/life/"),
        "move": owner.get(f"/bows/{bow.tag}/move/"),
        "retire": owner.get(f"/bows/{bow.tag}/retire/"),
        "hold many": owner.get("/hold/", {"list": "lot", "lot": "LOT-A", "detail": NASTY}),
        "held before": owner.get("/held/"),
        "held together": owner.get(f"/held/{action.pk}/"),
        "house": owner.get("/house/"),
        "add a bow": owner.get("/house/bows/new/"),
        "add a bow, slips": owner.post("/house/bows/new/", {"tag": NASTY, "draw_length_in": NASTY}),
        "change a bow": owner.get(f"/house/bows/{bow.tag}/change/"),
        "leaving": owner.get("/house/people/larkspur-counter/leaving/"),
        "leaving, refused": owner.post("/house/people/larkspur-counter/leaving/", {"action": "erase", "also": NASTY}),
        "password, refused": owner.post("/house/people/larkspur-counter/password/", {"password": "short"}),
        "first steps": owner.get("/first-steps/"),
    }


def _order_pages(owner: Client, tag: str, page: str) -> dict[str, HttpResponse]:
    """An order's pages and those of its bow at the bench, as they stand and with slips in them."""
    return {
        "order": owner.get(page),
        "draw board": owner.get(f"{page}draw-board/"),
        "draw board, slips": owner.post(f"{page}draw-board/", {"found-peak_weight": NASTY}),
        "arms": owner.get(f"/bows/{tag}/arms/"),
        "arms, slips": owner.post(f"/bows/{tag}/arms/", {"upper-string": NASTY}),
        "measured over time": owner.get(f"/bows/{tag}/measurements/"),
        "how to measure": owner.get("/how-to-measure/"),
        "order, slips": owner.post(
            page, {"found-axle_to_axle": NASTY, "note": NASTY, "cord-string-half_twists": NASTY}
        ),
        "order, still open": owner.post(page, {"action": "sign", "note": NASTY}),
    }


@pytest.fixture
def responses(
    shop: Shop, camp: Shop, signed_in: Callable[..., Client], tmp_path: object, settings: object
) -> dict[str, HttpResponse]:
    """Every page, with texts in it that would run if they were not escaped."""
    settings.DATA_DIR = tmp_path  # type: ignore[attr-defined]
    personas.fitted_bow(camp, "single")
    bow = orders.worn_bow(shop)
    record.put_bow(by=shop.manager, tag=bow.tag, spec_sheet=bow.spec_sheet, serial=NASTY)
    order = orders.issued(shop, bow)
    owner = signed_in(shop.owner)
    page = f"/orders/{order.number}/"
    bad = SimpleUploadedFile("t.csv", f"code,kind,site\n{NASTY},{NASTY},larkspur\n".encode())
    return {
        "sign-in": Client().get("/sign-in/"),
        "sign-in refused": Client().post("/sign-in/", {"username": NASTY, "password": "x"}),
        "due": owner.get("/due/"),
        "due, nothing found": owner.get("/due/", {"find": NASTY}),
        "bows": owner.get("/bows/"),
        "guests": owner.get("/guests/"),
        "a booking refused": owner.post("/guests/book/", {"reference": NASTY}),
        "walk-in": owner.get("/guests/walk-in/"),
        "parts": owner.get("/parts/"),
        "a movement refused": owner.post("/parts/movements/", {"movement-order_number": NASTY}),
        "to order": owner.get("/parts/reorder/"),
        "calendars": owner.get("/calendars/"),
        "morning mail": owner.get("/account/morning/"),
        "nights": owner.get("/nights/"),
        "bows, nothing found": owner.get("/bows/", {"find": NASTY}),
        "bow": owner.get(f"/bows/{bow.tag}/"),
        **_cord_pages(owner, bow.tag),
        **_between_guests(owner, bow),
        **desk_pages(owner, shop, bow),
        "queue": owner.get("/queue/"),
        "queue, empty": owner.get("/queue/", {"day": "2026-05-01"}),
        **_order_pages(owner, bow.tag, page),
        "take in": owner.get("/take-in/"),
        "take in, refused": owner.post("/take-in/", {"kind": "tools"}),
        "preview": owner.post("/take-in/", {"kind": "tools", "file": bad}, follow=True),
        "not found": owner.get("/bows/<script>/"),
        "not open": signed_in(shop.counter).get("/queue/"),
        "stale form": signed_in(shop.owner, enforce_csrf_checks=True).post(page),
    }


def _cord_pages(owner: Client, tag: str) -> dict[str, HttpResponse]:
    """The pages of cords, cord specs and coefficients."""
    return {
        "cord": owner.get(f"/bows/{tag}/cords/string/"),
        "cord specs": owner.get("/cord-specs/"),
        "cord specs, nothing found": owner.get("/cord-specs/", {"find": NASTY}),
        "cord spec": owner.get("/cord-specs/QW-string/"),
        "spec history": owner.get("/cord-specs/QW-string/history/"),
        "spec history, slip": owner.get("/cord-specs/QW-string/history/", {"percent": NASTY}),
        "coefficient": owner.get("/cord-specs/QW-string/coefficients/load_exponent/"),
        "coefficient, slip": owner.post("/cord-specs/QW-string/coefficients/load_exponent/", {"value": NASTY[:40]}),
        "house coefficients": owner.get("/coefficients/"),
    }


def _between_guests(owner: Client, bow: Bow) -> dict[str, HttpResponse]:
    """The pages of the phone, and the labels that lead to them."""
    return {
        "between guests": owner.get("/turnaround/"),
        "between guests, nothing found": owner.get("/turnaround/", {"find": NASTY}),
        "check": owner.get(f"/turnaround/{bow.tag}/"),
        "check, slips": owner.post(f"/turnaround/{bow.tag}/", {**fine(use="shots"), "shots": NASTY, "note": NASTY}),
        "answer": owner.post(f"/turnaround/{bow.tag}/", fine(dropped="yes", note=NASTY), follow=True),
        "no line": owner.get("/no-line/"),
        "next guest": owner.get("/next-guest/", {"hours": "1"}),
        "next guest, slips": owner.get("/next-guest/", {"hours": "1", "draw_length": NASTY}),
        "labels": owner.get("/labels/"),
        "labels, nothing found": owner.get("/labels/", {"find": NASTY}),
    }


def test_no_page_carries_inline_script_or_style(responses: dict[str, HttpResponse]) -> None:
    assert {name: Page(response).inline for name, response in responses.items() if Page(response).inline} == {}


def test_every_control_has_a_name_for_those_who_cannot_see_it(responses: dict[str, HttpResponse]) -> None:
    assert {name: Page(response).unlabelled for name, response in responses.items() if Page(response).unlabelled} == {}


def test_every_page_has_one_heading_a_title_and_a_language(responses: dict[str, HttpResponse]) -> None:
    for name, response in responses.items():
        html = response.content.decode()
        assert html.count("<h1>") == 1, name
        assert re.search(r"<title>\s*\S", html), name
        assert '<html lang="en">' in html, name
        assert html.count('id="main"') == 1, name


def test_every_id_is_there_once(responses: dict[str, HttpResponse]) -> None:
    for name, response in responses.items():
        ids = re.findall(r'\sid="([^"]+)"', response.content.decode())
        assert len(ids) == len(set(ids)), f"{name}: {sorted(one for one in ids if ids.count(one) > 1)}"


def test_every_page_allows_only_its_own_scripts_and_styles(responses: dict[str, HttpResponse]) -> None:
    for name, response in responses.items():
        policy = response["Content-Security-Policy"]
        assert "default-src 'self'" in policy, name
        assert "unsafe" not in policy, name


def test_what_the_pages_link_to_is_there(responses: dict[str, HttpResponse], shop: Shop, signed_in: object) -> None:
    client = signed_in(shop.owner)  # type: ignore[operator]
    linked_by: dict[str, str] = {}
    for name, response in responses.items():
        base = response.request["PATH_INFO"]
        for address in re.findall(r'href="([^"#]+)"', response.content.decode()):
            target = (base + address if address.startswith("?") else address).replace("&amp;", "&")
            linked_by.setdefault(target, name)
    for target, name in linked_by.items():
        assert client.get(target).status_code in (200, 302), f"{name} links to {target}"


def test_typed_text_is_shown_as_text(responses: dict[str, HttpResponse]) -> None:
    of_the_desk = ("find, as typed", "held before", "held together", "add a bow, slips")
    for name in ("sign-in refused", "due, nothing found", "bow", *of_the_desk, "order, slips", "preview"):
        html = responses[name].content.decode()
        assert NASTY not in html, name
        assert "&lt;img" in html, name
