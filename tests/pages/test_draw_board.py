"""The draw board of an order: worked out live, kept as its readings, and never with an assumed bolt response."""

from collections.abc import Callable

import pytest
from django.test import Client

from fleet import record
from fleet.models import Bow
from service import decide
from service.models import WorkOrder
from service.orders import close, work
from service.orders.work import TypedReading
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import INCH_M, POUND_N, Shop

BOARD = {
    "found-peak_weight": "70",
    "found-holding_weight": "14",
    "found-draw_length": "26 1/4",
    "found-stop_sync": "1/16",
    "found-first_stop": "lower",
    "left-limb_bolt_turns": "2 1/2",
}


@pytest.fixture
def order(shop: Shop) -> WorkOrder:
    return orders.issued(shop, personas.fitted_bow(shop, "twin", "L-BOARD"))


@pytest.fixture
def client(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    return signed_in(shop.technician)


def address(order: WorkOrder) -> str:
    return f"/orders/{order.number}/draw-board/"


def live(client: Client, order: WorkOrder, data: dict[str, str]) -> Page:
    response = client.post(address(order), data, headers={"HX-Request": "true"})
    assert response.status_code == 200
    return Page(response)


def test_let_off_and_amo_draw_length_by_the_published_formulas(client: Client, order: WorkOrder) -> None:
    """70/14 lb is 80 % (AMO, ASTM F1880); 26 1/4 in true is 28 in AMO."""
    page = live(client, order, BOARD)
    assert "80.0 %" in page.words
    assert "28 in" in page.words
    assert "AMO, ASTM F1880" in page.text
    assert order.readings.count() == 0


def test_outside_the_bench_tolerance_is_said(client: Client, order: WorkOrder) -> None:
    page = live(client, order, {"found-peak_weight": "41", "left-peak_weight": "42"})
    assert (page.words.count("inside"), page.words.count("outside")) == (1, 1)


def test_what_is_kept_becomes_readings_of_the_order(client: Client, order: WorkOrder, shop: Shop) -> None:
    scale = shop.tool_codes["scale"]
    client.post(f"/orders/{order.number}/", {"action": "save", "note": "kept", "step": ["1"]})
    assert client.post(address(order), {**BOARD, "tool-scale": scale}).status_code == 302
    found = {one.kind: (one.as_found, one.as_left) for one in order.readings.exclude(as_found=None, as_left=None)}
    assert found == {
        "peak_weight": (pytest.approx(70 * POUND_N), None),
        "holding_weight": (pytest.approx(14 * POUND_N), None),
        "let_off": (pytest.approx(0.8), None),
        "draw_length": (pytest.approx(26.25 * INCH_M), None),
        "stop_sync": (pytest.approx(-INCH_M / 16), None),
        "limb_bolt_turns": (None, 2.5),
    }
    assert order.readings.get(kind="peak_weight").tool.code == scale
    order.refresh_from_db()
    assert (order.note, order.steps_done) == ("kept", [1])
    page = Page(client.get(address(order)))
    assert page.value("found-stop_sync") == "1/16 in"
    assert Page(client.get(f"/orders/{order.number}/")).value("found-peak_weight") == "70.0 lb"


def test_an_emptied_field_is_emptied(client: Client, order: WorkOrder) -> None:
    client.post(address(order), BOARD)
    client.post(address(order), {**BOARD, "found-holding_weight": ""})
    assert order.readings.get(kind="holding_weight").as_found is None
    assert order.readings.get(kind="let_off").as_found is None


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"found-peak_weight": "14", "found-holding_weight": "70"}, "they may be swapped"),
        ({"found-stop_sync": "1/16"}, "Say which stop touches first"),
        ({"found-stop_sync": "1/16", "found-first_stop": "together"}, "leave no gap"),
        ({"found-stop_sync": "-1/16", "found-first_stop": "upper"}, "out of range"),
        ({"found-draw_length": "far"}, "is not a number with a unit"),
    ],
)
def test_each_slip_is_named(client: Client, order: WorkOrder, typed: dict[str, str], said: str) -> None:
    assert said in live(client, order, typed).text


def test_an_unreadable_field_keeps_its_text_and_all_else_is_kept(client: Client, order: WorkOrder) -> None:
    response = client.post(address(order), {**BOARD, "found-peak_weight": "seventy"})
    assert response.status_code == 422
    assert Page(response).value("found-peak_weight") == "seventy"
    assert order.readings.get(kind="draw_length").as_found == pytest.approx(26.25 * INCH_M)


def test_a_bolt_turn_is_not_yet_learned(client: Client, order: WorkOrder) -> None:
    assert "Not yet learned." in Page(client.get(address(order))).words


def closed_with_turns(shop: Shop, bow: Bow, turned: float, change_lb: float) -> None:
    """A closed order under which both bolts were turned out and the peak weight went with them."""
    order = orders.issued(shop, bow)
    assert order.reference_set is not None
    readings = [
        TypedReading(one.kind, one.value - (change_lb * POUND_N if one.kind == "peak_weight" else 0), one.value)
        for one in order.reference_set.measurements.all()
    ]
    bolts = TypedReading("limb_bolt_turns", 1.0, 1.0 + turned)
    at = personas.NOW
    work.enter(order, by=shop.technician, now=at, readings=[*readings, bolts], cords=[], steps_done=[], note="")
    close.sign(order, by=shop.technician, now=at)
    order.refresh_from_db()
    close.release(order, by=shop.manager, now=at)


def test_no_bolt_turn_is_told_that_goes_against_the_limbs(client: Client, shop: Shop) -> None:
    """Bolts turned out relax the limbs (common practice, no source): a slope that rises is a misreading."""
    bow = personas.fitted_bow(shop, "twin", "L-BOLTS")
    closed_with_turns(shop, bow, turned=1.5, change_lb=3.0)
    order = orders.issued(shop, bow)
    page = live(client, order, {"found-peak_weight": "43"})
    assert "Not yet learned." in page.words and "start from" not in page.text


def test_a_finding_or_an_incident_says_not_to_draw(client: Client, shop: Shop, order: WorkOrder) -> None:
    warning = "Do not draw this bow, not on the board either"
    assert warning not in Page(client.get(address(order))).text
    client.post(f"/orders/{order.number}/", {"action": "save", "cord-string-finding": "broken_strand"})
    page = Page(client.get(address(order)))
    assert warning in page.text and "string: broken strand" in page.text
    bow = personas.fitted_bow(shop, "twin", "L-FELL")
    record.report_incident(
        by=shop.counter, bow=bow, kind="dry_fire", happened_at=personas.before(hours=3), key="fell", now=personas.NOW
    )
    decide.refresh([bow.pk], personas.NOW)
    page = Page(client.get(address(orders.issued(shop, bow))))
    assert warning in page.text and "dry fire" in page.text


def test_a_board_reading_can_be_tapped_in_from_its_reference(client: Client, order: WorkOrder) -> None:
    raw = client.get(address(order)).content.decode()
    assert 'id="picker"' in raw and raw.count('data-pick-from="') >= 2


def test_closed_orders_teach_what_a_bolt_turn_does(client: Client, shop: Shop) -> None:
    bow = personas.fitted_bow(shop, "twin", "L-BOLTS")
    closed_with_turns(shop, bow, turned=1.5, change_lb=-3.0)
    order = orders.issued(shop, bow)
    page = live(client, order, {"found-peak_weight": "43"})
    assert "-2.0 lb per turn out" in page.text
    assert "closed orders learned from: 1 of this bow, 0 of its mates" in page.text.lower()
    assert "start from 1 1/2 turn" in page.text and "out" in page.text
    assert "(learned from closed orders: " in " ".join(_steps_of_a_timing_check(shop, bow, order))


def _steps_of_a_timing_check(shop: Shop, bow: Bow, order: WorkOrder) -> list[str]:
    work.cancel(order, by=shop.technician, why="again", now=personas.NOW)
    record.record_turnaround(
        by=shop.counter, bow=bow, at=personas.NOW, answers={}, measurements=[], verdict="check_timing", key="again"
    )
    steps: list[str] = orders.issued(shop, bow).frozen["steps"]
    return steps


def test_a_bow_without_cams_has_no_stops_and_holds_nothing(client: Client, shop: Shop) -> None:
    page = Page(client.get(address(orders.issued(shop, personas.fitted_bow(shop, kind="recurve")))))
    names = {one.get("name") for one in page.controls}
    assert "found-peak_weight" in names
    assert not {"found-stop_sync", "found-holding_weight", "found-first_stop"} & names
    assert "stringer" in page.text
