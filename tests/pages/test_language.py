"""The language of pages: the person's choice, before the browser's, before English; programs get English."""

from collections.abc import Callable

import pytest
from django.test import Client

from tests.personas import Shop

FRENCH = {"HTTP_ACCEPT_LANGUAGE": "fr-CH, fr;q=0.9, en;q=0.5"}


def test_the_browser_is_asked_before_anybody_has_signed_in(db: None) -> None:
    page = Client().get("/sign-in/", **FRENCH)
    assert '<html lang="fr"' in page.content.decode()
    assert page["Content-Language"] == "fr"
    assert '<html lang="en"' in Client().get("/sign-in/").content.decode()
    # A language that the book does not speak.
    assert '<html lang="en"' in Client().get("/sign-in/", HTTP_ACCEPT_LANGUAGE="is").content.decode()


@pytest.mark.parametrize("address", ["/due/", "/turnaround/", "/no-such-page/"])
def test_a_persons_choice_goes_before_the_browsers(address: str, shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.counter)
    assert '<html lang="fr"' in client.get(address, **FRENCH).content.decode()
    assert client.post("/language/", {"language": "en", "back": "/bows/"})["Location"] == "/bows/"
    assert '<html lang="en"' in client.get(address, **FRENCH).content.decode()
    client.post("/language/", {"language": "fr"})
    assert '<html lang="fr"' in client.get(address).content.decode()
    # Kept with the person, not with the browser.
    assert '<html lang="fr"' in signed_in(shop.counter).get(address).content.decode()
    assert '<html lang="en"' in signed_in(shop.manager).get(address).content.decode()


def test_a_choice_that_nobody_offers_changes_nothing(shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.counter)
    client.post("/language/", {"language": "fr"})
    assert client.post("/language/", {"language": "tlh", "back": "https://elsewhere.example/"})["Location"] == "/"
    assert '<html lang="fr"' in client.get("/due/").content.decode()


def test_programs_are_answered_in_english(shop: Shop, signed_in: Callable[..., Client]) -> None:
    answer = Client().get("/api/due", **FRENCH)
    assert answer.status_code == 401
    assert answer["Content-Language"] == "en"
