"""Order entry: what is typed is kept, what cannot be read is named beside its field, and the way to released."""

from collections.abc import Callable
from io import BytesIO

import pypdf
import pytest
from django.test import Client

from fleet import lookups, record
from fleet.models import Bow, SignedResult
from fleet.vocabulary import BowState
from service.models import OrderStatus, WorkOrder
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import INCH_M, Shop


@pytest.fixture
def bow(shop: Shop) -> Bow:
    return orders.worn_bow(shop)


@pytest.fixture
def order(shop: Shop, bow: Bow) -> WorkOrder:
    return orders.issued(shop, bow)


@pytest.fixture
def client(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    return signed_in(shop.technician)


def address(order: WorkOrder) -> str:
    return f"/orders/{order.number}/"


def kept(order: WorkOrder, kind: str) -> tuple[float | None, float | None]:
    one = order.readings.get(kind=kind)
    return one.as_found, one.as_left


def test_fractions_decimals_and_other_units_are_read(client: Client, order: WorkOrder) -> None:
    typed = {"found-axle_to_axle": "33 1/4", "left-axle_to_axle": "838.2 mm", "found-brace_height": "6.9375"}
    assert client.post(address(order), {"action": "save", **typed}).status_code == 302
    assert kept(order, "axle_to_axle") == (pytest.approx(33.25 * INCH_M), pytest.approx(33 * INCH_M))
    assert kept(order, "brace_height") == (pytest.approx(6.9375 * INCH_M), None)


def test_what_was_typed_shows_again_as_a_rule_reads_it(client: Client, order: WorkOrder) -> None:
    client.post(address(order), {"action": "save", "found-axle_to_axle": "33.25"})
    assert Page(client.get(address(order))).value("found-axle_to_axle") == "33 1/4 in"


def test_saving_again_does_not_round_what_was_typed(client: Client, order: WorkOrder) -> None:
    client.post(address(order), {"action": "save", "found-axle_to_axle": "844.7 mm"})
    page = Page(client.get(address(order)))
    client.post(address(order), {"action": "save", "found-axle_to_axle": page.value("found-axle_to_axle")})
    assert kept(order, "axle_to_axle")[0] == pytest.approx(0.8447)


def test_inside_and_outside_are_said_in_words(client: Client, order: WorkOrder) -> None:
    """Bench tolerance is half the in-service 1/8 in."""
    typed = {"left-axle_to_axle": "33 1/16", "left-brace_height": "7 3/32"}
    client.post(address(order), {"action": "save", **typed})
    page = Page(client.get(address(order)))
    assert page.words.count("inside") == 1
    assert page.words.count("outside") == 1
    assert "+1/16 in" in page.words


def test_an_unreadable_field_keeps_its_text_and_all_else_is_kept(client: Client, order: WorkOrder) -> None:
    client.post(address(order), {"action": "save", "left-axle_to_axle": "33"})
    typed = {"found-axle_to_axle": "33 1/8", "left-axle_to_axle": "thirty", "note": "peep turned", "step": ["0", "2"]}
    response = client.post(address(order), {"action": "save", **typed})
    page = Page(response)
    assert response.status_code == 422
    assert page.value("left-axle_to_axle") == "thirty"
    assert page.control("left-axle_to_axle")["aria-invalid"] == "true"
    assert page.control("left-axle_to_axle")["aria-describedby"] == "left-axle_to_axle-error"
    assert "axle to axle, as left: 'thirty' is not a number with a unit" in page.text
    order.refresh_from_db()
    assert (order.note, order.steps_done) == ("peep turned", [0, 2])
    assert kept(order, "axle_to_axle") == (pytest.approx(33.125 * INCH_M), pytest.approx(33 * INCH_M))


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("found-axle_to_axle", "330", "out of range"),
        ("found-axle_to_axle", "33 5/4", "not below one"),
        ("found-peak_weight", "40 mm", "not a unit of force"),
        ("found-peak_weight", "<script>alert(1)</script>", "not a number"),
        ("cord-string-half_twists", "4 1/2", "not a count of half turns"),
        ("cord-string-half_twists", "999", "outside 0 to 200"),
        ("cord-string-half_twists", "-3", "outside 0 to 200"),
    ],
)
def test_each_slip_is_named_with_what_is_allowed(
    field: str, text: str, said: str, client: Client, order: WorkOrder
) -> None:
    response = client.post(address(order), {"action": "sign", field: text})
    page = Page(response)
    assert response.status_code == 422
    assert said in page.text
    assert page.value(field) == text
    assert page.inline == []
    assert not SignedResult.objects.exists()


def test_words_of_no_list_are_not_taken_for_one(client: Client, order: WorkOrder) -> None:
    odd = {"cord-string-why": "bored", "cord-string-finding": "ugly", "cord-string-spec": "none such", "step": "x"}
    assert client.post(address(order), {"action": "save", **odd}).status_code == 302
    entry = order.cords.get(position="string")
    assert (entry.removed_why, entry.finding, entry.new_spec) == ("", "", None)


def test_signing_with_readings_missing_is_refused_beside_what_was_typed(client: Client, order: WorkOrder) -> None:
    response = client.post(address(order), {"action": "sign", "left-axle_to_axle": "33", "note": "half done"})
    page = Page(response)
    assert response.status_code == 200
    assert "stays open" in page.text
    assert page.value("left-axle_to_axle") == "33"
    order.refresh_from_db()
    assert (order.status, order.note) == (OrderStatus.IN_WORK, "half done")


def test_out_of_tolerance_does_not_close(client: Client, order: WorkOrder) -> None:
    typed = {**orders.on_reference(order), **orders.new_set(order), "left-axle_to_axle": "33 1/8"}
    page = Page(client.post(address(order), {"action": "sign", **typed}))
    assert "outside the bench tolerance" in page.text
    assert not SignedResult.objects.exists()


def test_the_whole_way_to_released_takes_a_second_person(
    client: Client, order: WorkOrder, bow: Bow, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    typed = {"action": "sign", **orders.on_reference(order), **orders.new_set(order)}
    signed = client.post(address(order), typed, follow=True)
    assert "is signed" in Page(signed).text
    assert "somebody else checks and releases it" in Page(signed).text
    refused = client.post(address(order), {"action": "release"})
    assert "a second person checks and releases it" in Page(refused).text
    released = signed_in(shop.manager).post(address(order), {"action": "release"}, follow=True)
    assert "is released" in Page(released).text
    assert lookups.state_of(bow) == BowState.READY
    assert {fitting.cord.serial for fitting in lookups.fitted(bow)} == {
        "NEW-string",
        "NEW-upper_cable",
        "NEW-lower_cable",
    }


def test_a_signed_order_is_closed_to_typing(client: Client, order: WorkOrder) -> None:
    client.post(address(order), {"action": "sign", **orders.on_reference(order), **orders.new_set(order)})
    response = client.post(address(order), {"action": "save", "note": "too late"})
    assert "only" in Page(response).text or "this needs it to be" in Page(response).text
    order.refresh_from_db()
    assert order.note == ""
    assert Page(client.get(address(order))).value("left-axle_to_axle") == "33 in"


def test_cancelling_asks_why_and_keeps_what_was_typed(client: Client, order: WorkOrder) -> None:
    page = Page(client.post(address(order), {"action": "cancel", "why": " ", "found-axle_to_axle": "33 1/2"}))
    assert "Say why the order is cancelled" in page.text
    assert page.value("found-axle_to_axle") == "33 1/2"
    client.post(address(order), {"action": "cancel", "why": "wrong bow"})
    order.refresh_from_db()
    assert order.status == OrderStatus.CANCELLED
    assert "cancelled" in Page(client.get(address(order))).words


def test_a_stop_found_bent_adds_its_steps_and_keeps_what_was_typed(client: Client, order: WorkOrder) -> None:
    assert "add-stop_changed" in client.get(address(order)).content.decode()
    typed = {"action": "add-stop_changed", "found-draw_length": "28", "step": ["0"]}
    answer = client.post(address(order), typed, follow=True).content.decode()
    order.refresh_from_db()
    assert "set the changed draw stop from the module setting" in answer and "add-stop_changed" not in answer
    assert order.steps_done == [0] and kept(order, "draw_length")[0] == pytest.approx(28 * INCH_M)


def test_a_button_that_is_none_is_refused(client: Client, order: WorkOrder) -> None:
    assert "reload the page" in Page(client.post(address(order), {"action": "explode"})).text


def test_a_serial_that_is_on_another_bow_is_refused_readably(client: Client, order: WorkOrder, shop: Shop) -> None:
    other = personas.fitted_bow(shop, "single", "L-940")
    taken = other.fittings.get(position="string").cord.serial
    typed = {**orders.on_reference(order), **orders.new_set(order), "cord-string-serial": taken}
    response = client.post(address(order), {"action": "sign", **typed})
    assert response.status_code == 200
    assert taken in Page(response).text
    assert Page(response).value("cord-string-serial") == taken
    assert not SignedResult.objects.exists()


def test_a_metric_site_types_and_reads_metric(camp: Shop, signed_in: Callable[..., Client]) -> None:
    order = orders.issued(camp, orders.worn_bow(camp, "single"))
    client = signed_in(camp.technician)
    client.post(address(order), {"action": "save", "found-axle_to_axle": "840,5", "found-peak_weight": "180"})
    assert kept(order, "axle_to_axle")[0] == pytest.approx(0.8405)
    assert kept(order, "peak_weight")[0] == pytest.approx(180)
    page = Page(client.get(address(order)))
    assert page.value("found-axle_to_axle") == "840.5 mm"
    assert page.value("found-peak_weight") == "180.0 N"


def test_a_tool_is_kept_with_its_reading(client: Client, order: WorkOrder, shop: Shop) -> None:
    rule = shop.tool_codes["rule"]
    client.post(address(order), {"action": "save", "found-axle_to_axle": "33", "tool-axle_to_axle": rule})
    assert order.readings.get(kind="axle_to_axle").tool.code == rule
    record.put_tool(by=shop.owner, code="larkspur-log", site=shop.site, kind="logger")
    assert "larkspur-log" not in Page(client.get(address(order))).words


def test_the_sheet_prints_alone(client: Client, order: WorkOrder) -> None:
    response = client.get(f"{address(order)}sheet.pdf")
    assert response["Content-Type"] == "application/pdf"
    assert order.number in response["Content-Disposition"]
    first = pypdf.PdfReader(BytesIO(response.content)).pages[0].extract_text()
    assert order.bow.tag in first
    assert "printed 2026-07-01 09:00" in first  # 15:00 UTC in Denver
