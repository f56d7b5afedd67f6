"""A reprint while an order is open: what is kept stands in its boxes, as it was read."""

from io import BytesIO

import pypdf
import pytest
from django.utils import timezone

from fleet.models import Bow
from service.orders.paper import sheet_of
from service.orders.wording import estimated, measured, off_as_read
from service.printing.pdf import render_order
from service.units import Units
from tests import personas
from tests.pages import orders
from tests.personas import INCH_M, Shop

READ_M = 7.078125 * INCH_M  # 7 5/64 in, between two divisions of 1/32


@pytest.fixture
def shop(db: None) -> Shop:
    return personas.shop()


@pytest.fixture
def bow(shop: Shop) -> Bow:
    return personas.fitted_bow(shop, "single", "L-950")


def test_a_reprint_has_the_readings_in_their_boxes(shop: Shop, bow: Bow) -> None:
    order = orders.issued(shop, bow)
    first = {row.name: row for row in sheet_of(order).measurements}
    assert first["brace height"].as_found is None
    order.readings.create(kind="brace_height", as_found=READ_M)
    row = next(one for one in sheet_of(order).measurements if one.name == "brace height")
    assert (row.as_found, row.as_left) == (READ_M, None)
    pdf = pypdf.PdfReader(BytesIO(render_order(sheet_of(order), timezone.now(), "letter")))
    assert "7 5/64 in" in "".join(page.extract_text() for page in pdf.pages)


def test_what_is_kept_is_shown_to_a_64th_and_what_is_expected_to_a_32nd() -> None:
    assert measured("brace_height", READ_M, Units.IMPERIAL) == "7 5/64 in"
    assert measured("brace_height", 7.25 * INCH_M, Units.IMPERIAL) == "7 1/4 in"
    assert off_as_read("brace_height", INCH_M / 64, Units.IMPERIAL) == "+1/64 in"
    assert estimated("brace_height", READ_M, Units.IMPERIAL) == "7 3/32 in"
