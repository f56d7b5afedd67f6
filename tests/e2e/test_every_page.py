"""Every page in a real browser, at phone and desk size, light and dark: axe, targets, overflow, complaints."""

from collections.abc import Callable, Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from fleet import record
from service.models import WorkOrder
from tests import personas
from tests.e2e.conftest import DESK, PHONE
from tests.e2e.walking import complaints, sign_in
from tests.pages import orders
from tests.personas import Shop

LEAST_TARGET_PX = 44
# Links in running text and cells are as high as their line: WCAG 2.2, 2.5.8 excepts them.
TYPED = "input:not([type=hidden]):not([type=checkbox]):not([type=radio])"
TARGETS = f"button, .button, {TYPED}, select, .masthead a, summary, .views a"
SMALL_TARGETS = """
(selector) => [...document.querySelectorAll(selector)]
  .filter(one => one.checkVisibility())
  .map(one => [one.outerHTML.slice(0, 80), one.getBoundingClientRect()])
  .filter(([_, box]) => box.width > 0 && (box.height < LEAST - 0.5 || box.width < LEAST - 0.5))
  .map(([html, box]) => `${html} ${box.width} x ${box.height}`)
""".replace("LEAST", str(LEAST_TARGET_PX))
STICKING_OUT = """
() => [...document.querySelectorAll("main *")]
  .filter(one => one.getBoundingClientRect().right > window.innerWidth + 0.5)
  .slice(0, 4).map(one => one.outerHTML.slice(0, 90)).join(" | ")
"""

SPEC_PAGES = {
    "cord specs": "/cord-specs/",
    "cord spec": "/cord-specs/QW-string/",
    "spec history": "/cord-specs/QW-string/history/?percent=115",
    "coefficient": "/cord-specs/QW-string/coefficients/load_exponent/",
    "house coefficients": "/coefficients/",
}

# Pages whose address is the same in every book.
PLAIN_PAGES = {
    "due": "/due/",
    "due, nothing found": "/due/?find=nothing",
    "bows": "/bows/",
    "bow, bare": "/bows/L-990/",
    **SPEC_PAGES,
    "between guests": "/turnaround/",
    "next guest": "/next-guest/?hours=1",
    "labels": "/labels/",
    "queue": "/queue/",
    "how to measure": "/how-to-measure/",
    "outlook": "/outlook/",
    "what if": "/outlook/what-if/?ask=1&use=30&warmer=5",
    "devices": "/devices/",
    "second factor": "/account/second-factor/",
    "second factor, reset": "/house/people/larkspur-counter/second-factor/",
    "leaving": "/house/people/larkspur-counter/leaving/",
    "service": "/status/",
    "guests": "/guests/",
    "walk-in": "/guests/walk-in/?hand=left&expected_shots=9&start=2030-01-01T10:00&end=2030-01-01T11:00"
    "&draw_length=&peak_weight_min=&peak_weight_max=",
    "parts": "/parts/",
    "part": "/parts/of/QW-string/",
    "to order": "/parts/reorder/",
    "calendars": "/calendars/",
    "morning mail": "/account/morning/",
    "nights": "/nights/",
    "take in": "/take-in/",
}


def addresses_of(tag: str, number: str) -> dict[str, str]:
    """Every page that is looked at as it stands: those above, and those of one bow and its order."""
    return {
        **PLAIN_PAGES,
        "bow": f"/bows/{tag}/",
        "cord": f"/bows/{tag}/cords/string/",
        "check": f"/turnaround/{tag}/",
        "order": f"/orders/{number}/",
        "draw board": f"/orders/{number}/draw-board/",
        "arms": f"/bows/{tag}/arms/",
        "references": f"/bows/{tag}/references/",
        "measured over time": f"/bows/{tag}/measurements/",
    }


@pytest.fixture
def order(shop: Shop, computed: Callable[[], int]) -> WorkOrder:
    """An order for a worn bow; beside it a fresh bow, a held one and one with nothing on record."""
    bow = orders.worn_bow(shop, "hybrid")
    personas.fitted_bow(shop, kind="recurve")
    held = personas.fitted_bow(shop, "single")
    record.report_incident(
        by=shop.counter,
        bow=held,
        kind="dry_fire",
        happened_at=personas.before(hours=2),
        note="no arrow",
        key="incident-1",
        now=personas.NOW,
    )
    personas.bare_bow(shop, personas.spec_sheet(shop.owner, "twin"), "L-990")
    computed()
    return orders.issued(shop, bow)


@pytest.fixture(params=[(size, scheme) for size in ("desk", "phone") for scheme in ("light", "dark")], ids="-".join)
def page_as(request: pytest.FixtureRequest, browser: Browser) -> Iterator[Page]:
    """A page at one size in one theme."""
    size, scheme = request.param
    context = browser.new_context(viewport=PHONE if size == "phone" else DESK, color_scheme=scheme)
    yield context.new_page()
    context.close()


def look(page: Page, name: str) -> list[str]:
    """What is wrong with the page as it stands."""
    # After a click the stylesheet may still be on its way, and unstyled targets are small.
    page.wait_for_load_state("load")
    found = [f"{name}: {one}" for one in page.evaluate(SMALL_TARGETS, TARGETS)]
    width, there = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    if width > there:
        found.append(f"{name}: {width} px wide in a window of {there}: {page.evaluate(STICKING_OUT)}")
    for violation in Axe().run(page).response["violations"]:
        where = "; ".join(str(node["target"]) for node in violation["nodes"][:3])
        found.append(f"{name}: axe {violation['id']} ({violation['help']}): {where}")
    return found


def test_every_page_is_readable_for_everybody(
    page_as: Page, shop: Shop, order: WorkOrder, live_server: LiveServer
) -> None:
    page, base = page_as, live_server.url
    heard = complaints(page)
    page.goto(f"{base}/sign-in/")
    found = look(page, "sign-in")
    sign_in(page, base, shop.owner)
    addresses = addresses_of(order.bow.tag, order.number)
    for name, address in addresses.items():
        page.goto(f"{base}{address}")
        page.evaluate("document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
        found += look(page, name)
    page.locator(".account > summary").click()
    found += look(page, "take in, menu open")
    assert heard == []
    found += _states_of_an_order(page, base, order)
    page.goto(f"{base}/bows/none/")
    found += look(page, "not found")
    assert found == []


def _states_of_an_order(page: Page, base: str, order: WorkOrder) -> list[str]:
    """The order's page with slips, with what is still open, and the preview of a bad file."""
    page.goto(f"{base}/orders/{order.number}/")
    page.locator("[name='found-axle_to_axle']").fill("thirty")
    page.locator("[name='left-brace_height']").fill("9")
    page.locator("[name='left-draw_length']").fill("28")
    page.get_by_role("button", name="Keep what is typed").click()
    found = look(page, "order with slips")
    page.goto(f"{base}/take-in/")
    page.locator("#kind").select_option("tools")
    content = b"code,kind,site\nx,ruler,nowhere\nL-rule-7,rule,larkspur\n"
    page.locator("#file").set_input_files({"name": "tools.csv", "mimeType": "text/csv", "buffer": content})
    page.get_by_role("button", name="See what would change").click()
    return found + look(page, "preview")
