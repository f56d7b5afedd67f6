"""The desk's pages in a real browser, at phone and desk size, light as the device says and dark as a person chose."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from fleet import record
from service.models import WorkOrder
from tests import personas
from tests.e2e.conftest import DESK, PHONE
from tests.e2e.test_every_page import look, order
from tests.e2e.walking import complaints, sign_in
from tests.personas import Shop

__all__ = ["order"]

SIZES = {"desk": DESK, "phone": PHONE}


@pytest.fixture(params=[(size, theme) for size in SIZES for theme in ("device", "dark")], ids="-".join)
def seen(request: pytest.FixtureRequest, browser: Browser, shop: Shop) -> Iterator[Page]:
    """A page of a light device at one size, for an owner who left the theme to it or chose the dark one."""
    size, theme = request.param
    if theme == "dark":
        record.choose_theme(by=shop.owner, theme=theme)
    context = browser.new_context(viewport=SIZES[size], color_scheme="light")
    yield context.new_page()
    context.close()


def addresses_of(tag: str, action: int) -> dict[str, str]:
    """Every page of the desk and its states, by name."""
    return {
        "due, narrowed": "/due/?kind=compound&state=held",
        "due, a filter unreadable": "/due/?from=soon",
        "find, nothing typed": "/find/",
        "find": "/find/?find=C-&all=1",
        "find, a lot": "/find/?find=LOT-A",
        "find, nothing": "/find/?find=zebra",
        "fleet": "/fleet/",
        "costs": "/costs/?whole=1",
        "life": f"/bows/{tag}/life/",
        "move": f"/bows/{tag}/move/",
        "retire": f"/bows/{tag}/retire/",
        "hold many": "/hold/",
        "hold many, a lot": "/hold/?list=lot&lot=LOT-A",
        "held before": "/held/",
        "held together": f"/held/{action}/",
        "house": "/house/",
        "add a bow": "/house/bows/new/",
        "change the site": "/house/sites/larkspur/change/",
        "password": "/house/people/larkspur-counter/password/",
        "first steps": "/first-steps/",
    }


def test_every_page_of_the_desk_is_readable_for_everybody(
    seen: Page, shop: Shop, order: WorkOrder, live_server: LiveServer
) -> None:
    page, base, tag = seen, live_server.url, order.bow.tag
    heard = complaints(page)
    record.save_view(by=shop.owner, page="due", name="Held compounds", query="kind=compound&state=held")
    action = record.hold_many(
        by=shop.owner, site=shop.site, bows=[order.bow], detail="frays", picked="by hand", at=personas.NOW
    )
    sign_in(page, base, shop.owner)
    addresses = addresses_of(tag, action.pk)
    found = []
    for name, address in addresses.items():
        page.goto(f"{base}{address}")
        for details in page.locator("main details:not([open]) > summary").all():
            details.click()
        found += look(page, name)
    page.locator(".all-pages > summary").click()
    found += look(page, "all pages open")
    page.goto(f"{base}/house/bows/new/")
    page.locator("[name='draw_length_in']").fill("thirty")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("Nothing was kept yet.")
    found += look(page, "a record with slips")
    # The browser itself reports the answer 422 to the form with slips.
    assert [one for one in heard if "422" not in one] == []
    assert found == []
