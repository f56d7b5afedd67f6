"""Signing in and out, and where each kind of user starts."""

from collections.abc import Callable

import pytest
from django.test import Client

from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop


@pytest.mark.parametrize(
    ("role", "start"),
    [("counter", "/turnaround/"), ("technician", "/queue/"), ("manager", "/due/"), ("owner", "/due/")],
)
def test_each_kind_of_user_starts_at_their_own_work(role: str, start: str, shop: Shop) -> None:
    person = getattr(shop, role)
    client = Client()
    response = client.post("/sign-in/", {"username": person.username, "password": personas.PASSWORD}, follow=True)
    assert response.redirect_chain[-1][0] == start


def test_after_signing_in_the_page_that_was_asked_for_opens(shop: Shop) -> None:
    sign_in = {"username": shop.counter.username, "password": personas.PASSWORD, "next": "/bows/?find=L"}
    assert Client().post("/sign-in/", sign_in)["Location"] == "/bows/?find=L"


def test_nobody_is_sent_to_another_house_after_signing_in(shop: Shop) -> None:
    sign_in = {"username": shop.counter.username, "password": personas.PASSWORD, "next": "https://elsewhere.example/"}
    assert Client().post("/sign-in/", sign_in)["Location"] == "/"


def test_a_wrong_password_keeps_the_name_and_says_what_to_do(shop: Shop) -> None:
    page = Page(Client().post("/sign-in/", {"username": shop.counter.username, "password": "wrong"}))
    assert page.value("username") == shop.counter.username
    assert page.value("password") == ""
    assert "do not match" in page.text


def test_many_wrong_passwords_rest_the_sign_in_even_for_the_right_one(shop: Shop) -> None:
    client, name = Client(), shop.counter.username
    for _ in range(8):
        last = client.post("/sign-in/", {"username": name, "password": "wrong"})
    assert last.status_code == 429
    assert "Wait a quarter of an hour" in Page(last).text
    assert client.post("/sign-in/", {"username": name, "password": personas.PASSWORD}).status_code == 429


def test_signing_out_ends_the_session(shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.counter)
    assert client.get("/sign-out/").status_code == 405
    assert client.post("/sign-out/")["Location"] == "/sign-in/"
    assert client.get("/bows/").status_code == 302
