"""The technician's walk: sign in, find the bow, issue, measure, change the set, sign; a second person releases."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from fleet import lookups
from fleet.models import Bow, SignedResult
from service.models import OrderStatus, WorkOrder
from tests import personas
from tests.e2e.walking import choose, complaints, sign_in, sign_out, tab_to, type_in
from tests.pages import orders
from tests.personas import Shop


@pytest.fixture
def bow(shop: Shop, computed: Callable[[], int]) -> Bow:
    """A bow whose set is past its rated shots."""
    return orders.worn_bow(shop, "single")


@pytest.mark.parametrize("size", ["page", "phone_page"])
def test_from_sign_in_to_released(
    size: str, request: pytest.FixtureRequest, shop: Shop, bow: Bow, live_server: LiveServer
) -> None:
    page: Page = request.getfixturevalue(size)
    found = complaints(page)
    sign_in(page, live_server.url, shop.technician)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Bench queue")
    page.get_by_role("link", name="Bows", exact=True).click()
    page.get_by_label("Tag or serial").fill(bow.tag)
    page.locator("main").get_by_role("button", name="Find").click()
    page.get_by_role("link", name=bow.tag).click()
    expect(page.get_by_text("Held: it must not go to a guest")).to_be_visible()
    page.get_by_role("button", name="Issue an order for today").click()
    order = WorkOrder.objects.get(bow=bow)
    for name, text in orders.on_reference(order).items():
        page.locator(f"[name='{name}']").fill(text)
    for row in order.frozen["cords"]:
        prefix = f"cord-{row['position']}"
        page.locator(f"[name='{prefix}-replaced']").check()
        page.locator(f"[name='{prefix}-serial']").fill(f"NEW-{row['position']}")
        page.locator(f"[name='{prefix}-why']").select_option("planned")
    page.get_by_role("button", name="Keep what is typed").click()
    expect(page.get_by_text("Kept.", exact=True)).to_be_visible()
    expect(page.get_by_text("inside", exact=True)).to_have_count(len(order.frozen["measurements"]))
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("is signed")
    expect(page.get_by_role("button", name="Release the bow")).to_have_count(0)
    sign_out(page)
    sign_in(page, live_server.url, shop.manager)
    page.goto(f"{live_server.url}/orders/{order.number}/")
    page.get_by_role("button", name="Release the bow").click()
    expect(page.get_by_text(f"{bow.tag} is released")).to_be_visible()
    result = SignedResult.objects.get(order_number=order.number)
    assert (result.performed_by, result.released_by) == (shop.technician, shop.manager)
    assert {fitting.cord.serial for fitting in lookups.fitted(bow)} == {"NEW-string", "NEW-buss_cable"}
    assert found == []


def test_from_sign_in_to_signed_by_keyboard_alone(page: Page, shop: Shop, bow: Bow, live_server: LiveServer) -> None:
    page.goto(f"{live_server.url}/sign-in/?next=/bows/{bow.tag}/")
    type_in(page, "#id_username", shop.technician.username)
    type_in(page, "#id_password", personas.PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(f"{live_server.url}/bows/{bow.tag}/")
    tab_to(page, "form[action$='/issue/'] button")
    page.keyboard.press("Enter")
    page.wait_for_url(f"{live_server.url}/orders/*/")
    order = WorkOrder.objects.get(bow=bow)
    typed = orders.on_reference(order)
    for row in order.frozen["measurements"]:
        for moment in ("found", "left"):
            type_in(page, f"[name='{moment}-{row['kind']}']", typed[f"{moment}-{row['kind']}"])
    for row in order.frozen["cords"]:
        prefix = f"cord-{row['position']}"
        tab_to(page, f"[name='{prefix}-replaced']")
        if not page.locator(f"[name='{prefix}-replaced']").is_checked():
            page.keyboard.press("Space")
        type_in(page, f"[name='{prefix}-serial']", f"KEY-{row['position']}")
        choose(page, f"[name='{prefix}-why']", "planned")
    tab_to(page, "[name='step'][value='0']")
    page.keyboard.press("Space")
    tab_to(page, "button[value='sign']")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("is signed")
    order.refresh_from_db()
    assert (order.status, order.steps_done) == (OrderStatus.SIGNED, [0])
    assert {fitting.cord.serial for fitting in lookups.fitted(bow)} == {"KEY-string", "KEY-buss_cable"}


def test_an_unreadable_field_is_found_from_the_summary(
    page: Page, shop: Shop, bow: Bow, live_server: LiveServer
) -> None:
    order = orders.issued(shop, bow)
    sign_in(page, live_server.url, shop.technician)
    page.goto(f"{live_server.url}/orders/{order.number}/")
    page.locator("[name='found-axle_to_axle']").fill("thirty three")
    page.locator("[name='found-brace_height']").fill("7 1/8")
    page.keyboard.press("Enter")
    page.get_by_role("link", name="axle to axle, as found").click()
    expect(page.locator("[name='found-axle_to_axle']")).to_have_value("thirty three")
    expect(page.locator("#found-axle_to_axle-error")).to_be_in_viewport()
    expect(page.locator("[name='found-brace_height']")).to_have_value("7 1/8")
    assert order.readings.get(kind="brace_height").as_found == pytest.approx(7.125 * personas.INCH_M)


def test_the_cord_fields_show_only_for_a_replaced_cord(
    page: Page, shop: Shop, live_server: LiveServer, computed: Callable[[], int]
) -> None:
    bow = personas.fitted_bow(shop, "single", "L-970")
    computed()
    order = orders.issued(shop, bow)
    sign_in(page, live_server.url, shop.technician)
    page.goto(f"{live_server.url}/orders/{order.number}/")
    serial = page.locator("[name='cord-string-serial']")
    expect(serial).to_be_hidden()
    page.locator("[name='cord-string-replaced']").check()
    expect(serial).to_be_visible()
