"""A whole order at the bench with its live parts: found, diagnosed, drawn on the board, twisted, left, signed."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from fleet.models import SignedResult
from service.models import OrderStatus, WorkOrder
from tests import personas
from tests.e2e.walking import complaints, sign_in
from tests.pages import orders
from tests.pages.timing_orders import UPPER_CABLE_LONGER, marked_order, typed
from tests.personas import Shop


@pytest.fixture
def order(shop: Shop, computed: Callable[[], int]) -> WorkOrder:
    bow = personas.fitted_bow(shop, "twin", "L-WALK")
    computed()
    return marked_order(shop, bow)


def fill(page: Page, values: dict[str, str]) -> None:
    for name, text in values.items():
        page.locator(f"[name='{name}']").fill(text)


@pytest.mark.parametrize("size", ["page", "phone_page"])
def test_a_whole_order_live(
    size: str, request: pytest.FixtureRequest, shop: Shop, order: WorkOrder, live_server: LiveServer
) -> None:
    page: Page = request.getfixturevalue(size)
    heard, address = complaints(page), f"{live_server.url}/orders/{order.number}/"
    sign_in(page, live_server.url, shop.technician)
    page.goto(address)
    loads: list[str] = []
    page.on("load", lambda _page: loads.append(page.url))
    says = page.locator("#readings-say")
    expect(says).to_contain_text("Type what was found")
    found = typed(UPPER_CABLE_LONGER)
    fill(page, {"found-axle_to_axle": found.pop("found-axle_to_axle")})
    expect(says).to_contain_text("Cannot tell which cord moved")
    page.locator("#note").fill("peep turned a little")
    fill(page, found)
    last = page.locator("[name='found-timing_mark_lower']")
    last.focus()
    expect(says).to_contain_text("Upper cable is 1/4 in longer")
    expect(says).to_contain_text("Upper cable: add")
    expect(page.locator("#says-found-timing_mark_upper")).to_contain_text("-")
    expect(last).to_be_focused()
    expect(page.locator("#note")).to_have_value("peep turned a little")
    assert loads == [] and order.readings.count() == 0
    page.locator("[name='cord-upper_cable-half_twists']").fill("52")
    page.get_by_role("button", name="Keep what is typed").click()
    expect(page.get_by_text("Kept.", exact=True)).to_be_visible()
    _on_the_board(page)
    page.get_by_role("link", name=f"Order {order.number}").click()
    _as_left_and_signed(page, order)
    assert heard == []


def _on_the_board(page: Page) -> None:
    page.get_by_role("link", name="Draw board").click()
    fill(page, {"found-peak_weight": "41", "found-holding_weight": "10", "found-stop_sync": "1/8"})
    says = page.locator("#board-says")
    expect(says).to_contain_text("Say which stop touches first")
    page.locator("[name='found-first_stop']").select_option("upper")
    expect(says).to_contain_text("Stop sync, upper stop first")
    expect(says).to_contain_text("75.6 %")
    expect(says).to_contain_text("Not yet learned.")
    page.get_by_role("button", name="Keep what is typed").click()
    expect(page.get_by_text("Kept as readings of order")).to_be_visible()


def _as_left_and_signed(page: Page, order: WorkOrder) -> None:
    says = page.locator("#readings-say")
    left = {name: text for name, text in orders.on_reference(order).items() if name.startswith("left-")}
    fill(page, {**left, "left-axle_to_axle": "33 1/4"})
    expect(says).to_contain_text("9 of 10 inside the bench tolerance")
    expect(page.locator("#says-left-axle_to_axle")).to_contain_text("outside")
    fill(page, {"left-axle_to_axle": "33"})
    expect(says).to_contain_text("As left: everything is inside the bench tolerance")
    expect(page.locator("#says-left-axle_to_axle")).to_contain_text("inside")
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.get_by_role("status").first).to_contain_text("is signed")
    order.refresh_from_db()
    assert order.status == OrderStatus.SIGNED
    kinds = set(SignedResult.objects.get(order_number=order.number).measurements.values_list("kind", flat=True))
    assert {"holding_weight", "let_off", "timing_mark_upper"} <= kinds


def test_without_scripts_keeping_says_the_same(
    browser: Browser, shop: Shop, order: WorkOrder, live_server: LiveServer
) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    sign_in(page, live_server.url, shop.technician)
    page.goto(f"{live_server.url}/orders/{order.number}/")
    fill(page, typed(UPPER_CABLE_LONGER))
    page.get_by_role("button", name="Keep what is typed").click()
    expect(page.locator("#readings-say")).to_contain_text("Upper cable is 1/4 in longer")
    expect(page.locator("#readings-say")).to_contain_text("Upper cable: add")
    context.close()


def test_what_was_typed_and_not_kept_is_put_back_after_a_reload(
    page: Page, shop: Shop, order: WorkOrder, live_server: LiveServer
) -> None:
    heard, notice = complaints(page), page.locator("#draft")
    sign_in(page, live_server.url, shop.technician)
    page.goto(f"{live_server.url}/orders/{order.number}/")
    expect(notice).to_be_hidden()
    fill(page, {"found-axle_to_axle": "33 1/4", "note": "called away"})
    page.locator("[name='step'][value='1']").check()
    page.reload()
    expect(page.locator("[name='found-axle_to_axle']")).to_have_value("")
    fill(page, {"found-brace_height": "7"})
    notice.get_by_role("button", name="Put it back").click()
    expect(page.locator("[name='found-axle_to_axle']")).to_have_value("33 1/4")
    expect(page.locator("[name='found-brace_height']")).to_have_value("7")
    expect(page.locator("#note")).to_have_value("called away")
    expect(page.locator("[name='step'][value='1']")).to_be_checked()
    expect(page.locator("#readings-say")).to_contain_text("Cannot tell which cord moved")
    page.get_by_role("button", name="Keep what is typed").click()
    expect(page.get_by_text("Kept.", exact=True)).to_be_visible()
    expect(notice).to_be_hidden()
    page.reload()
    expect(notice).to_be_hidden()
    fill(page, {"note": "gone again"})
    page.reload()
    notice.get_by_role("button", name="Forget it").click()
    page.reload()
    expect(notice).to_be_hidden()
    assert heard == []
