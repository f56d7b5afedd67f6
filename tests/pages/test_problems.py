"""The pages that say no."""

from collections.abc import Callable

import pytest
from django.db import InterfaceError, OperationalError, connection
from django.test import Client, RequestFactory

from service.pages import problems
from tests.pages.reading import Page
from tests.personas import Shop


def test_not_found_names_what_was_sought(shop: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(shop.counter).get("/bows/L-000/")
    assert response.status_code == 404
    assert "There is no bow L-000 at your sites." in Page(response).text


def test_an_address_that_is_none_tells_developers_nothing(shop: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(shop.counter).get("/no/such/page/")
    assert response.status_code == 404
    assert "Check the address" in Page(response).text
    assert "urlpatterns" not in Page(response).text


def test_not_open_says_which_role_it_takes(shop: Shop, signed_in: Callable[..., Client]) -> None:
    text = Page(signed_in(shop.counter).get("/take-in/")).text
    assert "needs the role of manager or above; at Larkspur Range you have the role of counter" in text


def test_a_fault_of_the_book_is_a_page_that_needs_no_database(
    shop: Shop, signed_in: Callable[..., Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    def stumble(*_: object) -> None:
        raise RuntimeError("secret detail")

    monkeypatch.setattr("service.pages.due.wears_in_order", stumble)
    client = signed_in(shop.counter)
    client.raise_request_exception = False
    response = client.get("/due/")
    assert response.status_code == 500
    assert "The book stumbled" in Page(response).text
    assert "secret detail" not in response.content.decode()


@pytest.mark.parametrize("said", [OperationalError("server closed the connection"), InterfaceError("closed")])
def test_a_database_that_is_away_is_said_to_be_and_when_to_come_back(
    shop: Shop, signed_in: Callable[..., Client], monkeypatch: pytest.MonkeyPatch, said: Exception
) -> None:
    def away(*_: object) -> None:
        raise said

    monkeypatch.setattr("service.pages.due.wears_in_order", away)
    client = signed_in(shop.counter)
    client.raise_request_exception = False
    response = client.get("/due/")
    assert (response.status_code, response["Retry-After"]) == (503, "30")
    assert "The book is away for a moment" in Page(response).text
    assert str(said) not in response.content.decode()


def test_a_faulty_question_to_the_database_is_no_outage(
    shop: Shop, signed_in: Callable[..., Client], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """SQLite tells "no such column" by the class of error that tells a locked file."""

    def faulty(*_: object) -> None:
        with connection.cursor() as cursor:
            cursor.execute("SELECT no_such FROM fleet_bow")

    monkeypatch.setattr("service.pages.due.wears_in_order", faulty)
    client = signed_in(shop.counter)
    client.raise_request_exception = False
    response = client.get("/due/")
    assert response.status_code == 500 and "Retry-After" not in response
    assert "The book stumbled" in Page(response).text
    assert any(one.exc_info is not None and "no_such" in str(one.exc_info[1]) for one in caplog.records)


def test_the_page_of_a_fault_asks_the_database_nothing() -> None:
    """No `db` fixture: a query would fail this test."""
    assert problems.broken(RequestFactory().get("/")).status_code == 500


def test_an_unreadable_request_is_answered_in_words(shop: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(shop.counter).post(
        "/sign-in/", data=b"\x00", content_type="multipart/form-data; boundary=\x00", HTTP_HOST="not a host"
    )
    assert response.status_code == 400
    assert "could not be read" in Page(response).text


def test_a_session_that_a_locked_database_did_not_keep_is_no_fault_of_the_browsers(
    shop: Shop, signed_in: Callable[..., Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Django tells both alike, as a session that is gone (sessions/backends/db.py)."""

    def locked(*_args: object, **_kwargs: object) -> None:
        raise OperationalError("database is locked")

    client = signed_in(shop.counter)
    monkeypatch.setattr("django.contrib.sessions.base_session.AbstractBaseSession.save", locked)
    monkeypatch.setattr("django.conf.settings.SESSION_SAVE_EVERY_REQUEST", True)
    response = client.get("/bows/")
    assert (response.status_code, response["Retry-After"]) == (503, "30")
    assert "The book is away for a moment" in Page(response).text
