"""At the bench with a tablet and no keyboard: readings by taps, the time, the next order at hand."""

from collections.abc import Callable, Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from service.models import WorkOrder
from service.orders.following import next_at_hand
from service.units import mixed_fraction
from tests import personas
from tests.e2e.walking import complaints, sign_in, sign_out
from tests.pages import orders
from tests.pages.conftest import BACKEND
from tests.personas import Shop

SPARE_PX = "window.innerWidth - document.documentElement.scrollWidth"


@pytest.fixture
def tablet(browser: Browser) -> Iterator[Page]:
    """A tablet upright, by touch alone."""
    context = browser.new_context(viewport={"width": 800, "height": 1100}, has_touch=True, is_mobile=True)
    yield context.new_page()
    context.close()


@pytest.fixture
def order(shop: Shop, computed: Callable[[], int]) -> WorkOrder:
    """An order for a worn hybrid; its references in inches and pounds."""
    bow = orders.worn_bow(shop, "hybrid")
    computed()
    return orders.issued(shop, bow)


def opened(page: Page, order: WorkOrder, shop: Shop, live_server: LiveServer) -> list[str]:
    heard = complaints(page)
    sign_in(page, live_server.url, shop.technician)
    page.goto(f"{live_server.url}/orders/{order.number}/")
    return heard


def press(page: Page, *names: str) -> None:
    for name in names:
        page.locator("#picker").get_by_role("button", name=name, exact=True).tap()


def test_a_reading_in_thirty_seconds_of_an_inch_is_entered_by_taps_alone(
    tablet: Page, shop: Shop, order: WorkOrder, live_server: LiveServer
) -> None:
    heard = opened(tablet, order, shop, live_server)
    field = tablet.locator("[name='found-axle_to_axle']")
    assert field.evaluate("one => one.inputMode") == "none", "no keyboard comes up"
    field.tap()
    expect(tablet.locator("#picker output")).to_have_text("33 in")
    press(tablet, "+1", "1/8", "3/32")
    expect(tablet.locator("#picker output")).to_have_text("34 7/32 in")
    expect(tablet.locator("#picker .from")).to_have_text("+1 7/32 in from the reference")
    assert [one for one in Axe().run(tablet).response["violations"] if "picker" in str(one)] == []
    press(tablet, "−1", "Use this")
    expect(field).to_have_value("33 7/32 in")
    tablet.locator("[name='found-peak_weight']").tap()
    press(tablet, "−1", "−0.1", "Use this")
    tablet.get_by_role("button", name="Keep what is typed").tap()
    expect(tablet.get_by_text("Kept.", exact=True)).to_be_visible()
    kept = {reading.kind: reading.as_found for reading in order.readings.all()}
    assert kept["axle_to_axle"] == pytest.approx((33 + 7 / 32) * personas.INCH_M, abs=1e-9)
    assert kept["peak_weight"] == pytest.approx(38.9 * personas.POUND_N, abs=1e-6)
    assert heard == []


def test_below_nothing_and_the_way_back_to_typing(
    tablet: Page, shop: Shop, order: WorkOrder, live_server: LiveServer
) -> None:
    opened(tablet, order, shop, live_server)
    field = tablet.locator("[name='left-stop_sync']")
    field.tap()
    expect(tablet.locator("#picker output")).to_have_text("0 in")
    press(tablet, "1/8", "1/32", "±", "Use this")
    expect(field).to_have_value("-5/32 in")
    field.tap()
    press(tablet, "Leave it")
    expect(field).to_have_value("-5/32 in")
    field.tap()
    opener = tablet.get_by_role("button", name=f"Enter by taps: {field.get_attribute('aria-label')}")
    expect(opener).to_have_count(0)
    press(tablet, "Type instead")
    field.fill("1/16")
    expect(field).to_have_value("1/16")
    opener.tap()
    expect(tablet.locator("#picker output")).to_have_text("1/16 in")


def test_every_sixty_fourth_can_be_picked_and_reads_as_itself(
    tablet: Page, shop: Shop, order: WorkOrder, live_server: LiveServer
) -> None:
    opened(tablet, order, shop, live_server)
    tablet.locator("[name='found-brace_height']").tap()
    for steps in range(64):
        tablet.locator(f"#picker [data-of='eighths'][data-steps='{steps // 8 * 8}']").click()
        tablet.locator(f"#picker [data-of='rest'][data-steps='{steps % 8}']").click()
        expect(tablet.locator("#picker output")).to_have_text(f"{mixed_fraction(7 + steps / 64, 64)} in")


def test_opening_a_kept_reading_does_not_round_it(
    tablet: Page, shop: Shop, order: WorkOrder, live_server: LiveServer
) -> None:
    """Readings are kept to half a division of the rule: whoever opens one and uses it has changed nothing."""
    opened(tablet, order, shop, live_server)
    for name, kept in (("found-axle_to_axle", "33 5/64 in"), ("found-peak_weight", "39.7 lb")):
        field = tablet.locator(f"[name='{name}']")
        field.fill(kept)
        field.tap()
        expect(tablet.locator("#picker output")).to_have_text(kept)
        press(tablet, "Use this")
        expect(field).to_have_value(kept)


def test_the_time_runs_on_through_a_reload_and_goes_into_the_note(
    tablet: Page, shop: Shop, order: WorkOrder, live_server: LiveServer
) -> None:
    opened(tablet, order, shop, live_server)
    tablet.get_by_role("button", name="Start the time").tap()
    tablet.reload()
    expect(tablet.get_by_role("button", name="Stop the time")).to_be_visible()
    tablet.evaluate(
        "name => localStorage.setItem(name, JSON.stringify({ran: 23 * 60000, since: null}))",
        f"bench-time/{order.number}",
    )
    tablet.get_by_role("button", name="Put it in the note").tap()
    expect(tablet.locator("#note")).to_have_value("Bench time: 23 min.")


def test_the_next_order_at_hand_is_one_tap_away(
    tablet: Page, shop: Shop, order: WorkOrder, live_server: LiveServer, computed: Callable[[], int]
) -> None:
    assert next_at_hand(order) is None
    second = orders.issued(shop, orders.worn_bow(shop, "single"))
    assert next_at_hand(order) == second
    opened(tablet, order, shop, live_server)
    tablet.locator(".next-order").tap()
    tablet.wait_for_url(f"**/orders/{second.number}/")


def test_a_new_set_is_signed_by_one_and_released_by_another_who_goes_on_to_the_next(
    tablet: Page, shop: Shop, order: WorkOrder, live_server: LiveServer, client: Client
) -> None:
    """And the page keeps within the tablet at every stand of the order."""
    address = f"/orders/{order.number}/"
    second = orders.issued(shop, orders.worn_bow(shop, "single"))
    opened(tablet, order, shop, live_server)
    assert tablet.evaluate(SPARE_PX) >= 0
    client.force_login(shop.technician, backend=BACKEND)
    client.post(address, {"action": "sign", **orders.on_reference(order), **orders.new_set(order)})
    tablet.reload()
    expect(tablet.get_by_text("somebody else checks and releases it")).to_be_visible()
    expect(tablet.get_by_role("button", name="Release the bow")).to_have_count(0)
    assert tablet.evaluate(SPARE_PX) >= 0, "a signed order is as wide as an open one"
    sign_out(tablet)
    sign_in(tablet, live_server.url, shop.manager)
    tablet.goto(f"{live_server.url}{address}")
    tablet.get_by_role("button", name="Release the bow").tap()
    expect(tablet.get_by_text("is released under")).to_be_visible()
    tablet.locator(".next-order").tap()
    tablet.wait_for_url(f"**/orders/{second.number}/")
