"""Order entry live: what the typed readings say, without keeping anything and without touching a field."""

import time
from collections.abc import Callable

import pytest
from django.test import Client

from fleet import record
from service.models import OrderStatus, WorkOrder
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.pages.timing_orders import T_L, UPPER_CABLE_LONGER, marked_order, typed
from tests.personas import INCH_M, Shop

# An answer has to be there before the eye leaves the field. Work is counted, not the wall clock of a busy machine.
FAST_S = 0.3


@pytest.fixture
def order(shop: Shop) -> WorkOrder:
    """A twin cam's order with marks, holes and axle to axle on its reference set, every arm measured."""
    return marked_order(shop, personas.fitted_bow(shop, "twin", "L-LIVE"))


@pytest.fixture
def client(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    return signed_in(shop.technician)


def live(client: Client, order: WorkOrder, data: dict[str, str]) -> Page:
    response = client.post(f"/orders/{order.number}/live/", data)
    assert response.status_code == 200
    return Page(response)


def test_nothing_typed_says_what_will_appear(client: Client, order: WorkOrder) -> None:
    page = live(client, order, {})
    assert "Type what was found" in page.text
    assert order.readings.count() == 0


def test_the_cord_that_moved_its_stretch_and_its_twists(client: Client, order: WorkOrder) -> None:
    page = live(client, order, typed(UPPER_CABLE_LONGER))
    assert "A cord has moved" in page.words
    assert "Upper cable is 1/4 in longer, give or take" in page.text
    assert "Upper cable: add" in page.text and "half turns" in page.text
    assert "With these twists in, the measurements should read" in page.words
    assert "33 in" in page.text


def test_nothing_is_kept_and_the_order_does_not_start(client: Client, order: WorkOrder) -> None:
    live(client, order, typed(UPPER_CABLE_LONGER))
    order.refresh_from_db()
    assert (order.status, order.readings.count()) == (OrderStatus.ISSUED, 0)


def test_it_says_the_same_after_keeping_without_scripts(client: Client, order: WorkOrder) -> None:
    said = live(client, order, typed(UPPER_CABLE_LONGER)).words
    client.post(f"/orders/{order.number}/", {"action": "save", **typed(UPPER_CABLE_LONGER)})
    page = Page(client.get(f"/orders/{order.number}/"))
    for words in ("A cord has moved", *[one for one in said if one.startswith("Upper cable")]):
        assert words in page.words


def test_too_few_readings_cannot_tell_and_name_what_would_settle_it(client: Client, order: WorkOrder) -> None:
    page = live(client, order, typed({"axle_to_axle": 33 * INCH_M + 0.003}))
    assert "Cannot tell which cord moved" in page.text
    assert "also measure" in page.text
    assert "add" not in page.text.lower().replace("read", "")


def test_a_reading_off_by_an_inch_is_flagged_and_believed_when_read_twice(client: Client, order: WorkOrder) -> None:
    data = typed({**UPPER_CABLE_LONGER, "axle_to_axle": 34 * INCH_M + 0.030 * T_L})
    page = live(client, order, data)
    assert "Read again before anything is twisted" in page.words
    assert "off by an inch?" in page.text
    assert page.control("twice-axle_to_axle")["type"] == "checkbox"
    again = live(client, order, {**data, "twice-axle_to_axle": "on"})
    assert "off by an inch?" not in again.text
    assert "checked" in again.control("twice-axle_to_axle")
    client.post(f"/orders/{order.number}/", {"action": "save", **data, "twice-axle_to_axle": "on"})
    assert order.readings.get(kind="axle_to_axle").read_twice
    assert "checked" in Page(client.get(f"/orders/{order.number}/")).control("twice-axle_to_axle")


def test_top_and_bottom_swapped_is_flagged(client: Client, order: WorkOrder) -> None:
    swapped = {
        **UPPER_CABLE_LONGER,
        "timing_mark_upper": UPPER_CABLE_LONGER["timing_mark_lower"],
        "timing_mark_lower": UPPER_CABLE_LONGER["timing_mark_upper"],
    }
    assert "top and bottom swapped?" in live(client, order, typed(swapped)).text


def test_a_field_that_cannot_be_read_yet_is_left_out_and_named(client: Client, order: WorkOrder) -> None:
    page = live(client, order, {**typed(UPPER_CABLE_LONGER), "found-brace_height": "seven"})
    assert "brace height, as found" in page.text
    assert "A cord has moved" in page.words


def test_as_left_says_what_is_still_off_and_what_is_missing(client: Client, order: WorkOrder) -> None:
    page = live(client, order, {"left-axle_to_axle": "33", "left-brace_height": "7 1/8"})
    assert "As left: 1 of 10 inside the bench tolerance" in page.words
    assert "Brace height: +1/8 in from its reference, +1/16 in outside the bench tolerance of ±1/16 in" in page.words
    assert "Not measured yet: draw length" in page.text


def test_as_left_on_the_reference_is_inside(client: Client, order: WorkOrder) -> None:
    values = {name: text for name, text in orders.on_reference(order).items() if name.startswith("left-")}
    assert "As left: everything is inside the bench tolerance" in live(client, order, values).words


def test_a_cord_whose_twists_nobody_counted_is_twisted_until_the_mark_returns(client: Client, shop: Shop) -> None:
    sheet = personas.spec_sheet(shop.owner, "twin")
    bow = personas.bare_bow(shop, sheet, "L-UNCOUNTED")
    for row in sheet.cords.select_related("cord_spec"):
        personas.fit(shop, bow, personas.cord(shop, row.cord_spec), half_twists=None)
    page = live(client, marked_order(shop, bow), typed(UPPER_CABLE_LONGER))
    assert "its turns were never counted" in page.text


def test_beyond_the_specs_twists_it_says_replace(client: Client, order: WorkOrder, shop: Shop) -> None:
    record.put_cord_spec(by=shop.owner, code="QW-upper_cable", twists_per_m_min=5.0, twists_per_m_max=21.2)
    assert "replace, do not twist" in live(client, order, typed(UPPER_CABLE_LONGER)).text


def test_twists_on_record_that_cannot_be_are_named_not_broken(client: Client, order: WorkOrder, shop: Shop) -> None:
    fitting = order.bow.fittings.get(position="upper_cable")
    record.put_cord_spec(by=shop.owner, code="QW-upper_cable", diameter_m=0.006, length_m=0.25)
    record.reset_cord(by=shop.technician, fitting=fitting, at=personas.NOW, half_twists=200)
    page = live(client, order, typed(UPPER_CABLE_LONGER))
    assert "count the turns again" in page.text


def test_every_answer_has_its_place_on_the_page(client: Client, order: WorkOrder) -> None:
    """What comes back by itself must find the element that it replaces."""
    whole = client.get(f"/orders/{order.number}/").content.decode()
    part = client.post(f"/orders/{order.number}/live/", typed(UPPER_CABLE_LONGER)).content.decode()
    for line in order.frozen["measurements"]:
        for moment in ("found", "left"):
            place = f'id="says-{moment}-{line["kind"]}"'
            assert place in whole and place in part
    assert 'id="readings-say"' in whole and 'hx-target="#readings-say"' in whole
    assert part.count("hx-swap-oob") == 2 * len(order.frozen["measurements"])


def test_it_answers_before_the_eye_leaves_the_field(client: Client, order: WorkOrder) -> None:
    live(client, order, typed(UPPER_CABLE_LONGER))
    begin = time.process_time()
    live(client, order, typed(UPPER_CABLE_LONGER))
    assert time.process_time() - begin < FAST_S


def test_a_recurve_goes_by_its_brace_height(client: Client, shop: Shop) -> None:
    order = orders.issued(shop, personas.fitted_bow(shop, kind="recurve"))
    page = live(client, order, {"found-brace_height": "8"})
    assert "String is" in page.text and "longer" in page.text
    assert "String: add" in page.text
