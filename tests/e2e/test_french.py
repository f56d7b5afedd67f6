"""The service in French, in a real browser: every page fits, says its language, and has no English left over.

What people typed (notes, names, titles) stays as they wrote it; so the book here says little, and says it in words that
the catalogue does not have.
"""

import re
from collections.abc import Callable
from functools import cache

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from fleet import record
from tests import personas, translations
from tests.e2e.conftest import DESK
from tests.e2e.test_all_addresses import OPEN_ALL, pages
from tests.e2e.test_every_page import STICKING_OUT
from tests.e2e.walking import complaints, sign_in
from tests.pages import orders
from tests.pages.test_who_may import addresses
from tests.personas import Shop

__all__ = ["addresses", "pages"]

PHONE = {"width": 390, "height": 844}
# Shorter strings may be French as well, or stand in a code.
LONG_ENOUGH = 12
# What is seen, and what is read out in its place; what says that it is English (the audit trail) may be.
TEXT = """
() => [[...document.querySelectorAll('[lang="en"]')].reduce((text, one) => text.replace(one.innerText, ""),
  document.body.innerText), ...[...document.querySelectorAll("[aria-label], [title], [placeholder], [alt]")]
  .flatMap(one => ["aria-label", "title", "placeholder", "alt"].map(name => one.getAttribute(name) || ""))]
  .join(" \\n ")
"""
FITS = "[document.documentElement.scrollWidth, window.innerWidth]"
GAP = re.compile(r"%\(\w+\)[a-z]|%%")


@cache
def english() -> tuple[tuple[str, ...], ...]:
    """What each string of the catalogue that French says otherwise is made of, without what is put into it."""
    found = []
    for message in translations.catalogue():
        strings = message.id if isinstance(message.id, tuple) else (message.id,)
        for text, said in zip(strings, translations._strings(message.string), strict=False):
            pieces = tuple(piece for piece in (_plain(one) for one in GAP.split(text)) if piece.strip(" .,:;()"))
            if text != said and pieces and max(map(len, pieces)) > LONG_ENOUGH:
                found.append(pieces)
    return tuple(found)


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", text))


def english_in(text: str) -> list[str]:
    """The strings left in English: all their pieces stand in the text one after the other, as whole words."""
    return ["…".join(pieces) for pieces in english() if pieces[0] in text and _in_order(pieces, text)]


def _in_order(pieces: tuple[str, ...], text: str) -> bool:
    # A piece's own spaces are kept: what is put in between may be anything, but not a whole page.
    pattern = ".{1,60}?".join(map(re.escape, pieces))
    return re.search(rf"(?<!\w){pattern}(?!\w)", text) is not None


def look(page: Page, name: str) -> list[str]:
    """What is wrong with the page as it stands, at the sizes of a phone and of a desk."""
    found = []
    if page.locator("html").get_attribute("lang") != "fr":
        found.append(f"{name}: not marked as French")
    page.evaluate(OPEN_ALL)
    for size in (PHONE, DESK):
        page.set_viewport_size(size)
        width, there = page.evaluate(FITS)
        if width > there:
            found.append(f"{name}: {width} px wide in a window of {there}: {page.evaluate(STICKING_OUT)}")
    return found + [f"{name}: in English: {one!r}" for one in english_in(_plain(page.evaluate(TEXT)))]


def test_english_is_told_from_french() -> None:
    assert english_in("L-900 Skip to the page frays") == ["Skip to the page"]
    assert english_in("Aller à la page : frays") == []


@pytest.fixture
def bows(pages: dict[str, str], shop: Shop, computed: Callable[[], int]) -> dict[str, str]:
    """More pages: a worn bow with its order, and one that was shot without an arrow."""
    bow, hurt = orders.worn_bow(shop, "hybrid"), personas.fitted_bow(shop, "single")
    record.report_incident(
        by=shop.counter, bow=hurt, kind="dry_fire", happened_at=personas.before(hours=2), key="i-1", now=personas.NOW
    )
    computed()
    order = orders.issued(shop, bow)
    return {
        "worn bow": f"/bows/{bow.tag}/",
        "its check": f"/turnaround/{bow.tag}/",
        "its order": f"/orders/{order.number}/",
        "hurt bow": f"/bows/{hurt.tag}/",
        "unknown": "/bows/none/",
    }


def test_every_page_is_whole_in_french(
    browser: Browser, shop: Shop, pages: dict[str, str], bows: dict[str, str], live_server: LiveServer
) -> None:
    record.choose_language(by=shop.owner, language="fr")
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    heard, found = complaints(page), list[str]()
    sign_in(page, live_server.url, shop.owner)
    for name, address in {**pages, **bows}.items():
        page.goto(live_server.url + address)
        found += look(page, name)
    context.close()
    # The browser itself reports the page that is not there.
    assert [one for one in heard if "404" not in one] == []
    assert found == [], "\n".join(found)


def test_a_technician_measures_with_a_comma(browser: Browser, shop: Shop, live_server: LiveServer) -> None:
    """On a phone whose browser asks for French, at a site that measures in millimetres."""
    record.put_site(by=shop.owner, code=shop.site.code, units="metric")
    bow = orders.worn_bow(shop, "single")
    order = orders.issued(shop, bow)
    context = browser.new_context(viewport=PHONE, locale="fr-FR")
    page = context.new_page()
    page.goto(f"{live_server.url}/sign-in/?next=/orders/{order.number}/")
    page.locator("#id_username").fill(shop.technician.username)
    page.locator("#id_password").fill(personas.PASSWORD)
    page.get_by_role("button", name="Se connecter").click()
    field = page.locator("[name='found-axle_to_axle']")
    field.fill("trente")
    page.get_by_role("button", name="Enregistrer la saisie").click()
    expect(page.locator("#found-axle_to_axle-error")).to_contain_text("n'est pas un nombre avec une unité")
    page.locator("[name='found-axle_to_axle']").fill("844,5")
    page.get_by_role("button", name="Enregistrer la saisie").click()
    expect(page.locator("[name='found-axle_to_axle']")).to_have_value(re.compile("^844,5"))
    assert order.readings.get(kind="axle_to_axle").as_found == pytest.approx(0.8445)
    context.close()
