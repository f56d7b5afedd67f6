"""What people do in a browser, by hand and by keyboard alone."""

from playwright.sync_api import Page

from fleet.models import Person
from tests import personas

MANY_TABS = 250


def sign_in(page: Page, base: str, person: Person) -> None:
    """Sign in with the mouse."""
    page.goto(f"{base}/sign-in/")
    page.get_by_label("User name").fill(person.username)
    page.get_by_label("Password").fill(personas.PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def sign_out(page: Page) -> None:
    """Open the menu at the head and sign out."""
    page.locator(".account > summary").click()
    page.get_by_role("button", name="Sign out").click()


def complaints(page: Page) -> list[str]:
    """A list that fills with every error that the browser reports: scripts, policy, missing files."""
    found: list[str] = []
    page.on("console", lambda message: found.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: found.append(str(error)))
    return found


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until the element has the focus; fails when it cannot be reached."""
    for _ in range(MANY_TABS):
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{selector} cannot be reached with the Tab key")


def type_in(page: Page, selector: str, text: str) -> None:
    """Tab to a field and type over what stands in it."""
    tab_to(page, selector)
    page.keyboard.press("Control+A")
    page.keyboard.type(text)


def choose(page: Page, selector: str, option: str) -> None:
    """Tab to a list and pick an option by typing its first letters."""
    tab_to(page, selector)
    page.keyboard.type(option)
