"""Every page and sheet with an estimate says what it only assumes, and stops saying so once a manager's value is in."""

from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from pypdf import PdfReader

from fleet.models import Bow, CordSpec, TurnaroundCheck
from service import decide
from service.spec_coefficients import Given, in_force, set_value
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import Shop
from tests.turnaround.typed import fine

LINE = "Rests on values that nobody has published or measured:"
ON_PAPER = "Assumed, not measured:"
ON_THE_COVER = "rests on assumed values"


@pytest.fixture
def bow(shop: Shop) -> Bow:
    """A bow whose set is due."""
    return orders.worn_bow(shop, "single")


def measure_all(shop: Shop) -> None:
    """A manager's own measurement in place of everything that was assumed of the cord specs, of the same value."""
    for spec in CordSpec.objects.all():
        for one in in_force(spec, shop.site):
            if one.can_be_set and one.is_assumed:
                given = Given(one.coefficient.value, "own measurement", "weighed and shot in May", "measured")
                set_value(spec, one.key, given, by=shop.manager, now=personas.NOW)
    decide.refresh_stale(personas.NOW)


def pages(shop: Shop, bow: Bow, signed_in: Callable[..., Client]) -> dict[str, HttpResponse]:
    """Every page of the desk and the bench on which an estimate stands."""
    client = signed_in(shop.manager)
    return {
        name: client.get(address)
        for name, address in {
            "due": "/due/",
            "bow": f"/bows/{bow.tag}/",
            "bows": "/bows/",
            "cord": f"/bows/{bow.tag}/cords/string/",
            "queue": "/queue/",
            "outlook": "/outlook/",
            "what if": "/outlook/what-if/?ask=1&use=30&warmer=0",
            "spec history": "/cord-specs/QW-string/history/",
        }.items()
    }


def test_every_page_says_so_while_something_is_assumed(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    for name, response in pages(shop, bow, signed_in).items():
        text = Page(response).text
        assert LINE in text, name
        assert "creep rate" in text, name


def test_no_page_says_so_once_everything_is_measured(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    measure_all(shop)
    for name, response in pages(shop, bow, signed_in).items():
        assert LINE not in Page(response).text, name


def test_one_value_of_the_shops_own_takes_its_name_off_the_line(
    bow: Bow, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    for spec in CordSpec.objects.all():
        given = Given(0.3, "own measurement", "our shelf", "measured")
        set_value(spec, "shelf_fraction", given, by=shop.manager, now=personas.NOW)
    decide.refresh_stale(personas.NOW)
    for name, response in pages(shop, bow, signed_in).items():
        text = Page(response).text
        assert LINE in text, name
        named = text.split(LINE)[1].split(".")[0]
        assert "shelf fraction" not in named, name
        assert "creep rate" in named, name


def test_a_value_that_is_set_but_only_assumed_keeps_the_word(
    bow: Bow, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    spec = bow.fittings.get(position="string").cord.spec
    given = Given(0.3, "assumed", "a guess", "to see")
    set_value(spec, "shelf_fraction", given, by=shop.manager, now=personas.NOW)
    decide.refresh_stale(personas.NOW)
    text = Page(signed_in(shop.manager).get(f"/bows/{bow.tag}/cords/string/")).text
    assert "shelf fraction" in text.split(LINE)[1].split(".")[0]


def test_on_the_due_list_each_row_says_so_for_itself(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    """Of two makes only the measured one loses the word."""
    spec = bow.fittings.get(position="string").cord.spec
    measure_all(shop)
    other = personas.cord_spec(shop.owner, "string", "QW-other")
    bare = personas.bare_bow(shop, personas.spec_sheet(shop.owner, kind="recurve"), "L-950")
    personas.fit(shop, bare, personas.cord(shop, other), days_ago=30)
    decide.refresh_stale(personas.NOW)
    html = signed_in(shop.manager).get("/due/").content.decode()
    rows = {row.split("/cords/")[0].split("/bows/")[-1]: row for row in html.split("<tr>")[2:] if "/cords/" in row}
    assert 'class="state care small">assumed' in rows["L-950"]
    assert 'class="state care small">assumed' not in rows[bow.tag]
    assert spec.code in rows[bow.tag]


def test_the_order_and_its_sheet_and_the_cover_say_so(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    order = orders.issued(shop, bow)
    client = signed_in(shop.technician)
    assert LINE in Page(client.get(f"/orders/{order.number}/")).text
    sheet = text_of(client.get(f"/orders/{order.number}/sheet.pdf"))
    assert ON_PAPER in sheet
    assert "creep rate" in sheet
    # Beside each cord's life used, where the number is.
    assert sheet.count("assumed shots") == len(order.frozen["cords"])
    assert "stretch by the estimate, partly assumed:" in sheet.lower()
    assert ON_THE_COVER in text_of(client.get("/queue/paper.pdf"))


def test_an_order_issued_on_measured_values_does_not(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    measure_all(shop)
    order = orders.issued(shop, bow)
    client = signed_in(shop.technician)
    assert LINE not in Page(client.get(f"/orders/{order.number}/")).text
    sheet = text_of(client.get(f"/orders/{order.number}/sheet.pdf"))
    assert ON_PAPER not in sheet
    assert "assumed shots" not in sheet
    assert "stretch by the estimate:" in sheet.lower()
    assert ON_THE_COVER not in text_of(client.get("/queue/paper.pdf"))


def test_an_order_keeps_what_it_was_issued_with(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    order = orders.issued(shop, bow)
    measure_all(shop)
    assert ON_PAPER in text_of(signed_in(shop.technician).get(f"/orders/{order.number}/sheet.pdf"))


def text_of(response: HttpResponse) -> str:
    """All pages of a PDF as one line of text."""
    content = b"".join(response) if response.streaming else response.content
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages)


def test_the_answer_on_the_phone_says_so_in_few_words(
    bow: Bow, shop: Shop, signed_in: Callable[..., Client], settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    client, words = signed_in(shop.counter), "rest partly on assumed values"
    answer = client.post(f"/turnaround/{bow.tag}/", fine(), headers={"Accept": "application/json"}).json()
    address = f"/turnaround/{bow.tag}/answers/{TurnaroundCheck.objects.get().key}/"
    assert answer["tag"] == bow.tag
    assert words in Page(client.get(address)).text
    measure_all(shop)
    assert words not in Page(client.get(address)).text
