"""The manager's walk: a file with a slip, mended, taken in; then the due list narrowed as it is typed."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from fleet.models import Hold, MeasuringTool
from tests import personas
from tests.e2e.walking import complaints, sign_in
from tests.personas import Shop

HEADER = "code,kind,site,calibration_due_on\n"
GOOD = f"{HEADER}L-rule-2,rule,larkspur,2027-01-31\nL-scale-2,scale,larkspur,2027-01-31\n"
BAD = GOOD.replace("L-scale-2,scale", "L-scale-2,bathroom scale")


def send(page: Page, base: str, content: str) -> None:
    page.goto(f"{base}/take-in/")
    page.get_by_label("What the file holds").select_option("tools")
    page.locator("#file").set_input_files({"name": "tools.csv", "mimeType": "text/csv", "buffer": content.encode()})
    page.get_by_role("button", name="See what would change").click()


@pytest.mark.parametrize("size", ["page", "phone_page"])
def test_a_file_is_mended_and_taken_in(
    size: str, request: pytest.FixtureRequest, shop: Shop, live_server: LiveServer
) -> None:
    page: Page = request.getfixturevalue(size)
    found = complaints(page)
    sign_in(page, live_server.url, shop.manager)
    send(page, live_server.url, BAD)
    expect(page.get_by_text("Nothing can be taken in yet.")).to_be_visible()
    expect(page.get_by_text("bathroom scale")).to_be_visible()
    expect(page.get_by_role("button", name="Take it in")).to_have_count(0)
    page.get_by_role("button", name="Send a mended file").click()
    send(page, live_server.url, GOOD)
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_text("2 new, 0 changed, 0 unchanged")).to_be_visible()
    assert MeasuringTool.objects.filter(code__startswith="L-").count() == 2
    assert found == []


def test_the_due_list_narrows_while_typing(
    page: Page, shop: Shop, live_server: LiveServer, computed: Callable[[], int]
) -> None:
    for tag in ("L-981", "L-982"):
        personas.fitted_bow(shop, "single", tag)
    computed()
    found = complaints(page)
    sign_in(page, live_server.url, shop.manager)
    rows = page.locator("#list tbody tr")
    expect(rows).to_have_count(4)
    page.wait_for_load_state("load")
    page.get_by_label("Tag, serial or lot", exact=True).press_sequentially("982")
    expect(rows).to_have_count(2)
    expect(page).to_have_url(re.compile(r"/due/\?find=982&cord=&"))
    page.get_by_label("Cord", exact=True).select_option("string")
    expect(rows).to_have_count(1)
    assert found == []
    page.context.set_offline(True)
    page.get_by_label("Cord", exact=True).select_option("")
    expect(page.get_by_text("The line is gone")).to_be_visible()
    page.context.set_offline(False)


def test_the_lists_narrow_without_scripts(
    browser: Browser, shop: Shop, live_server: LiveServer, computed: Callable[[], int]
) -> None:
    for tag in ("L-983", "L-984"):
        personas.fitted_bow(shop, "single", tag)
    computed()
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    sign_in(page, live_server.url, shop.manager)
    page.get_by_label("Tag, serial or lot", exact=True).fill("984")
    page.locator("main").get_by_role("button", name="Find").click()
    expect(page.locator("#list tbody tr")).to_have_count(2)
    page.locator(".account > summary").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in to the book")).to_be_visible()
    context.close()


@pytest.mark.parametrize("size", ["page", "phone_page"])
def test_a_lot_is_found_held_and_let_go_again(
    size: str, request: pytest.FixtureRequest, shop: Shop, live_server: LiveServer, computed: Callable[[], int]
) -> None:
    """A manager's week: narrow, keep the view, hold a lot, take it back, look at the fleet and the costs."""
    page: Page = request.getfixturevalue(size)
    for tag in ("L-985", "L-986"):
        personas.fitted_bow(shop, "single", tag)
    personas.fitted_bow(shop, kind="recurve", tag="L-987")
    computed()
    heard = complaints(page)
    sign_in(page, live_server.url, shop.manager)
    page.get_by_text("More filters").click()
    page.get_by_label("Kind of bow").select_option("recurve")
    expect(page.locator("#list tbody tr")).to_have_count(1)
    page.get_by_text("Keep, take away, hold").click()
    page.get_by_label("Keep this view as").fill("Recurves")
    page.get_by_role("button", name="Keep", exact=True).first.click()
    expect(page.get_by_role("link", name="Recurves")).to_have_attribute("aria-current", "page")
    page.locator("#look-up").fill("lot-a")
    page.locator("#look-up").press("Enter")
    page.get_by_role("link", name="Hold every bow with a cord of it").click()
    page.get_by_label("Why they are held").fill("serving separates")
    page.get_by_role("button", name="Hold these 3 bows").click()
    expect(page.get_by_text("3 bows are held.")).to_be_visible()
    assert Hold.objects.filter(released=None).count() == 3
    page.get_by_role("button", name="Release these 3 bows").click()
    expect(page.get_by_text("3 bows are released.")).to_be_visible()
    assert not Hold.objects.filter(released=None).exists()
    for name, heading in (("Fleet", "What the fleet is made of"), ("Costs", "What the bows cost")):
        page.locator(".all-pages > summary").click()
        page.locator(".all-pages").get_by_role("link", name=name, exact=True).click()
        expect(page.get_by_role("heading", name=heading)).to_be_visible()
    page.locator("#look-up").fill("L-987")
    page.locator("#look-up").press("Enter")
    page.get_by_role("link", name="Its whole life").click()
    expect(page.get_by_text("Held, held by a person: serving separates")).to_be_visible()
    assert heard == []


@pytest.mark.parametrize("width", [1000, 1280])
def test_the_search_lies_beside_the_name_of_the_page(
    width: int, page: Page, shop: Shop, live_server: LiveServer
) -> None:
    page.set_viewport_size({"width": width, "height": 700})
    sign_in(page, live_server.url, shop.manager)
    for address in ("places", "calibration"):
        page.goto(f"{live_server.url}/{address}/")
        name, search = page.locator(".all-pages > summary").bounding_box(), page.locator(".look-up").bounding_box()
        assert name is not None
        assert search is not None
        below = search["y"] >= name["y"] + name["height"]
        assert below or search["x"] >= name["x"] + name["width"], address
