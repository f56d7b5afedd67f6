"""Sessions and sign-in as they are set: what a browser is told, for how long, and when the sign-in rests."""

from datetime import timedelta

import pytest
import time_machine
from django.conf import settings
from django.test import Client

from fleet.models import Person
from tests.personas import NOW

PASSWORD = "a long enough one"


@pytest.fixture
def person(db: None) -> Person:
    """Somebody who can sign in; whether a page is open to them does not matter here."""
    return Person.objects.create_user("jo", password=PASSWORD, display_name="Jo")


def sign_in(client: Client, password: str = PASSWORD, address: str = "192.0.2.1") -> int:
    typed = {"username": "jo", "password": password}
    return client.post("/sign-in/", typed, REMOTE_ADDR=address).status_code


def is_in(client: Client) -> bool:
    """Whether the client's session is still somebody's."""
    return not str(client.get("/bows/").headers.get("Location", "")).startswith("/sign-in/")


def test_the_session_cookie_is_out_of_reach_of_scripts_and_other_houses(person: Person) -> None:
    client = Client()
    assert sign_in(client) == 302
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    assert cookie["httponly"] is True
    assert cookie["samesite"] == "Lax"
    assert cookie["max-age"] == 14 * 24 * 3600


def test_a_sign_in_gets_a_session_of_its_own(person: Person) -> None:
    """A session that somebody planted before is not the one that is signed in."""
    client = Client()
    session = client.session
    session["planted"] = True
    session.save()
    before = session.session_key
    sign_in(client)
    assert client.session.session_key != before


def test_a_new_password_ends_open_sessions(person: Person) -> None:
    client = Client()
    sign_in(client)
    person.set_password("another long enough one")
    person.save()
    assert client.get("/bows/")["Location"] == "/sign-in/?next=/bows/"


def test_the_sign_in_rests_by_name_and_address_together(person: Person) -> None:
    """Nobody can lock somebody else out from elsewhere."""
    tries = [sign_in(Client(), "wrong") for _ in range(settings.AXES_FAILURE_LIMIT)]
    assert tries == [200] * (settings.AXES_FAILURE_LIMIT - 1) + [429]
    assert sign_in(Client()) == 429
    assert sign_in(Client(), address="192.0.2.2") == 302


def test_the_right_password_forgets_the_wrong_ones(person: Person) -> None:
    for _ in range(2):
        for _ in range(settings.AXES_FAILURE_LIMIT - 1):
            assert sign_in(Client(), "wrong") == 200
        assert sign_in(Client()) == 302


def test_a_session_ends_after_its_fourteen_days_however_often_it_is_used(person: Person) -> None:
    client = Client()
    with time_machine.travel(NOW, tick=False) as clock:
        sign_in(client)
        for days in (7, 13.999):
            clock.move_to(NOW + timedelta(days=days))
            assert is_in(client), days
        clock.move_to(NOW + timedelta(days=14, seconds=1))
        assert not is_in(client)
        sign_in(client)
        assert is_in(client)


def test_the_rest_of_the_sign_in_ends_after_a_quarter_of_an_hour(person: Person) -> None:
    with time_machine.travel(NOW, tick=False) as clock:
        for _ in range(settings.AXES_FAILURE_LIMIT):
            sign_in(Client(), "wrong")
        clock.shift(timedelta(minutes=14, seconds=59))
        assert sign_in(Client()) == 429
        clock.shift(timedelta(minutes=15, seconds=2))
        assert sign_in(Client()) == 302


def test_someone_whose_access_ended_is_out_at_once(person: Person) -> None:
    client = Client()
    sign_in(client)
    Person.objects.filter(pk=person.pk).update(is_active=False)
    assert client.get("/bows/").status_code == 302
    assert sign_in(Client()) == 200
