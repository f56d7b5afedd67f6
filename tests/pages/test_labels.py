"""The labels page: bows and a sheet are chosen, what is printed is what was chosen, slips are told."""

from collections.abc import Callable
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from django.test import Client

from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop

OWN = {
    **{"grid": "own", "paper": "a4", "rows": "2", "columns": "2", "label_width": "80", "label_height": "40"},
    **{"top": "10", "left": "10", "gap_x": "0", "gap_y": "0"},
}


@pytest.fixture
def client(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    for number in range(4):
        personas.fitted_bow(shop, "single", f"L-40{number}")
    return signed_in(shop.technician)


def codes(client: Client, **fields: Any) -> list[list[str]]:
    """The addresses on each page of what was printed, at 100 dots per inch."""
    response = client.post("/labels/paper.pdf", fields)
    assert response["Content-Type"] == "application/pdf", Page(client.get("/labels/")).text
    pages = [page.render(scale=100 / 72).to_pil() for page in pypdfium2.PdfDocument(response.content)]
    return [sorted(code.text.rsplit("/", 2)[-2] for code in zxingcpp.read_barcodes(page)) for page in pages]


def test_the_ticked_bows_are_printed_from_the_first_free_place(client: Client) -> None:
    assert codes(client, grid="letter-3x10", start="29", bow=["L-400", "L-402", "L-403"]) == [
        ["L-400", "L-402"],
        ["L-403"],
    ]


def test_all_bows_found_are_printed_on_a_sheet_of_the_shops_own(client: Client) -> None:
    assert codes(client, which="all", find="L-40", start="2", **OWN) == [["L-400", "L-401", "L-402"], ["L-403"]]


def test_the_address_is_the_check_between_guests(client: Client, settings: Any) -> None:
    response = client.post("/labels/paper.pdf", {"grid": "single-57x32", "bow": "L-401"})
    picture = pypdfium2.PdfDocument(response.content)[0].render(scale=100 / 72).to_pil()
    assert zxingcpp.read_barcodes(picture)[0].text == f"{settings.PUBLIC_URL}/turnaround/L-401/"


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"grid": "a4-3x7"}, "No bow is chosen"),
        ({"bow": "L-400"}, "Choose a sheet"),
        ({"bow": "L-400", "grid": "a4-3x7", "start": "22"}, "places 1 to 21"),
        ({"bow": "L-400", "grid": "a4-3x7", "start": "first"}, "'first' is no whole number"),
        ({"bow": "L-400", **OWN, "columns": "3"}, "wide and the sheet 210.0 mm"),
        ({"bow": "L-400", **OWN, "top": "ten"}, "Margin above, mm: 'ten' is no number"),
        ({"bow": "L-400", **OWN, "left": "nan"}, "Margin at the left, mm: 'nan' is no number"),
    ],
)
def test_a_slip_is_told_and_nothing_is_printed(fields: dict[str, str], why: str, client: Client) -> None:
    response = client.post("/labels/paper.pdf", fields, follow=True)
    assert why in Page(response).text


def test_another_sites_bow_is_not_printed(client: Client, camp: Shop) -> None:
    personas.fitted_bow(camp, "twin", "C-001")
    response = client.post("/labels/paper.pdf", {"bow": "C-001", "grid": "a4-3x7"}, follow=True)
    assert "No bow is chosen" in Page(response).text


def test_a_bow_is_ticked_when_the_page_is_opened_for_it(client: Client) -> None:
    html = client.get("/labels/", {"bow": "L-402"}).content.decode()
    assert 'value="L-402" checked' in html and 'value="L-401"' not in html
