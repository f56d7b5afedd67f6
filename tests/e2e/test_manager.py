"""The manager's walk: a file with a slip, mended, taken in; then the due list narrowed as it is typed."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from fleet.models import MeasuringTool
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
    page.get_by_label("Tag, serial or lot").press_sequentially("982")
    expect(rows).to_have_count(2)
    expect(page).to_have_url(f"{live_server.url}/due/?find=982&cord=")
    page.get_by_label("Cord", exact=True).select_option("string")
    expect(rows).to_have_count(1)
    assert found == []


def test_the_lists_narrow_without_scripts(
    browser: Browser, shop: Shop, live_server: LiveServer, computed: Callable[[], int]
) -> None:
    for tag in ("L-983", "L-984"):
        personas.fitted_bow(shop, "single", tag)
    computed()
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    sign_in(page, live_server.url, shop.manager)
    page.get_by_label("Tag, serial or lot").fill("984")
    page.get_by_role("button", name="Find").click()
    expect(page.locator("#list tbody tr")).to_have_count(2)
    page.locator(".account > summary").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in to the book")).to_be_visible()
    context.close()
