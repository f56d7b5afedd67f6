"""Every address that answers with a page: read by axe in both themes, here or in the walks beside it, and again
without JavaScript, where its controls must do something and its first form must be answered by a page.
"""

from typing import Any

import pytest
from django.urls import URLPattern, get_resolver, resolve
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from fleet import record
from tests import personas
from tests.e2e import test_desk_pages, test_every_page
from tests.e2e.conftest import DESK, PHONE
from tests.e2e.test_every_page import look
from tests.e2e.walking import complaints, sign_in
from tests.pages.test_who_may import BOW_PAGES, FILE_PAGES, OWN_PAGES, POSTED, SITE_PAGES, addresses
from tests.personas import Shop

__all__ = ["addresses"]

# Looked at by a test of its own, because no owner of a book with a site opens it, or a signed-in person does not.
OF_AN_EMPTY_BOOK = {"first-site", "sign-in", "sign-in-code", "sign-out"}
# A sent file is its sender's alone: the walk of every page previews one.
OF_ITS_SENDER = {"take-in-preview", "take-in-problems", "take-in-apply", "take-in-drop"}
SENT_ON = {"home", "line"}
FILES = {
    *(
        "due-file",
        "costs-file",
        "parts-file",
        "order-list-file",
        "queue-pdf",
        "order-pdf",
        "reorder-csv",
        "reorder-pdf",
    ),
    *("take-in-sample", "turnaround-photo", "bow-record-pdf", "bow-record-json", "bow-record-zip"),
}
NO_PAGES = POSTED | OF_AN_EMPTY_BOOK | OF_ITS_SENDER | SENT_ON | FILES
FOR_PROGRAMS = {"feed-ics", "feed-csv", "live", "metrics", "ready", "turnaround-worker"}
# What these forms do takes away what another page shows: they are posted last.
LAST = ("hold-many", "bow-move", "bow-retire", "second-factor-reset", "password", "leaving", "second-factor")
ANSWERED = {200, 422}
PATIENCE_MS = 20_000
# Controls that do nothing without a script: a button or field without a form, a link that leads nowhere.
DEAD = """
() => [...document.querySelectorAll("button, a, input, select, textarea")]
  .filter(one => one.checkVisibility() && !one.disabled)
  .filter(one => one.tagName === "A" ? !one.hasAttribute("href") : !one.form)
  .map(one => one.outerHTML.slice(0, 90))
"""
OPEN_ALL = "document.querySelectorAll('main details').forEach((one) => { one.open = true; })"


# More of the address than the book alone gives.
WITH = {"outlook-move": "?bow=L-900&kind=replacement"}


@pytest.fixture
def pages(addresses: dict[str, str]) -> dict[str, str]:
    """Of all addresses those that answer with a page, by name: all that are not something else by name above."""
    return {name: address + WITH.get(name, "") for name, address in addresses.items() if name not in NO_PAGES}


def walked_beside() -> set[str]:
    """The names of the pages that the two other walks look at, in both themes and at both sizes."""
    at_desk = test_desk_pages.addresses_of("L-900", 1).values()
    at_bench = test_every_page.addresses_of("L-900", "W-1").values()
    return {str(resolve(one.split("?")[0]).url_name) for one in (*at_desk, *at_bench)}


def test_no_address_is_left_out() -> None:
    """Whatever is not named above as something else is opened as a page by the walks below: a new one by itself."""
    named = {pattern.name for pattern in get_resolver().url_patterns if isinstance(pattern, URLPattern)}
    walked = {*SITE_PAGES, *BOW_PAGES, *FILE_PAGES, *OWN_PAGES} - NO_PAGES
    assert named == walked | NO_PAGES | FOR_PROGRAMS
    assert walked >= walked_beside()
    assert not walked & (NO_PAGES | FOR_PROGRAMS)


def test_every_page_that_no_other_walk_opens_is_readable_for_everybody(
    browser: Browser, shop: Shop, pages: dict[str, str], live_server: LiveServer
) -> None:
    """Each in both themes, one at desk and the other at phone size, by turns: the styles of a theme know no sizes."""
    context = browser.new_context()
    page = context.new_page()
    heard, found = complaints(page), list[str]()
    sign_in(page, live_server.url, shop.owner)
    for at, name in enumerate(sorted(set(pages) - walked_beside())):
        page.set_viewport_size(PHONE if at % 2 else DESK)
        page.emulate_media(color_scheme="light")
        page.goto(live_server.url + pages[name])
        page.evaluate(OPEN_ALL)
        found += look(page, f"{name}, light")
        page.emulate_media(color_scheme="dark")
        page.set_viewport_size(DESK if at % 2 else PHONE)
        found += look(page, f"{name}, dark")
    context.close()
    assert heard == []
    assert found == []


def test_every_page_works_without_javascript(
    browser: Browser, shop: Shop, pages: dict[str, str], live_server: LiveServer
) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    wrong = list[str]()
    sign_in(page, live_server.url, shop.owner)
    for name in sorted(pages, key=lambda one: (LAST.index(one) if one in LAST else -1, one)):
        answer = page.goto(live_server.url + pages[name])
        if answer is None or answer.status != 200 or not page.locator("main h1").first.is_visible():
            wrong.append(f"{name}: {answer and answer.status}, or no heading")
            continue
        wrong += [f"{name}: needs a script: {one}" for one in page.evaluate(DEAD)]
        wrong += [f"{name}: {one}" for one in _first_form_sent(page)]
    context.close()
    assert wrong == []


def _first_form_sent(page: Page) -> list[str]:
    """Send the page's first form as it stands; what is typed on purpose is in the tests of the pages themselves.

    The browser's own "please fill in" is off, so that it is the server that answers a field left empty.
    """
    forms = page.locator("main form:has(button:not([type=button]))")
    if not forms.count():
        return []
    form = forms.first
    form.evaluate("form => { form.noValidate = true; form.closest('details')?.setAttribute('open', ''); }")
    where = str(form.evaluate("form => `${form.method} ${form.action}`"))
    with page.expect_navigation() as sent:
        form.locator("button:not([type=button])").first.click()
    status = sent.value.status if sent.value else None
    shown = page.locator("main h1").first.is_visible()
    return [] if status in ANSWERED and shown else [f"{where} was answered by {status}, heading: {shown}"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_first_pages_of_an_empty_book_are_readable_for_everybody(
    scheme: Any, browser: Browser, committed_book: None, live_server: LiveServer
) -> None:
    owner = record.found_book(username="owner", display_name="Odile Owner", password=personas.PASSWORD)
    context = browser.new_context(color_scheme=scheme, viewport=PHONE if scheme == "dark" else DESK)
    page = context.new_page()
    sign_in(page, live_server.url, owner)
    page.goto(f"{live_server.url}/first-site/")
    found = look(page, "first site")
    context.close()
    assert found == []
