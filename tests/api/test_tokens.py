"""Tokens: shown once, hashed at rest, of one site and some kinds of thing, revoked for good, limited per minute."""

import hashlib
from collections.abc import Callable

import pytest
import time_machine
from django.core.cache import caches
from django.db import connection
from django.test import Client
from redis.exceptions import ConnectionError as BrokerAway

from fleet import record
from fleet.models import Bow, DeviceToken, Person
from service import shared_counts
from service.api import limits
from tests.api.conftest import Device, shots
from tests.personas import NOW, Shop, before

pytestmark = pytest.mark.django_db
NEEDS = {
    "/api/shots": "shots",
    "/api/readings": "readings",
    "/api/due": "read",
    "/api/bows": "read",
    "/api/bows/L-1": "read",
    "/api/orders": "read",
    "/api/plan": "read",
}
POSTED = {"/api/shots", "/api/readings"}


def status(device: Device, address: str) -> int:
    return (device.send(address, {"items": []}) if address in POSTED else device.get(address)).status_code


def test_the_book_keeps_a_hash_alone(device: Callable[..., Device]) -> None:
    made = device("shots")
    assert made.token.secret_sha256 == hashlib.sha256(made.secret.encode()).hexdigest()
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')
            assert not any(made.secret in str(value) for row in cursor.fetchall() for value in row), table
    assert made.secret.startswith(made.token.begins) and len(made.secret) > 40


def test_nobody_signs_in_as_a_device(device: Callable[..., Device]) -> None:
    person = device().token.person
    assert not person.has_usable_password() and not person.is_active
    assert not person.posts.exists()


@pytest.mark.parametrize("scope", ["shots", "readings", "read"])
def test_each_kind_opens_its_calls_alone(bow: Bow, device: Callable[..., Device], scope: str) -> None:
    made = device(scope)
    for address, needed in NEEDS.items():
        found = status(made, address)
        assert found == (403 if needed != scope else 422 if address in POSTED else 200), address


def test_without_a_valid_token_nothing_opens(bow: Bow, device: Callable[..., Device], unlimited: None) -> None:
    made = device()
    wrong = [
        "",
        "Bearer",
        "Bearer ",
        f"Basic {made.secret}",
        f"Bearer {made.secret}x",
        "Bearer \udcff",
        f"Bearer {made.token.secret_sha256}",
    ]
    for address in NEEDS:
        for header in wrong:
            headers = {"Authorization": header}
            client = Client()
            response = (
                client.post(address, "{}", "application/json", headers=headers)
                if address in POSTED
                else client.get(address, headers=headers)
            )
            assert response.status_code == 401, (address, header)
            assert response["WWW-Authenticate"] == "Bearer"
            assert response["Content-Type"] == "application/problem+json"


def test_a_persons_session_is_no_token(shop: Shop) -> None:
    client = Client()
    client.force_login(shop.owner, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get("/api/due").status_code == 401


def test_revoked_is_revoked(bow: Bow, shop: Shop, device: Callable[..., Device]) -> None:
    made = device("shots")
    record.revoke_device_token(by=shop.manager, token=made.token, now=NOW)
    assert made.send("/api/shots", {"items": [shots()]}).status_code == 401
    again = record.revoke_device_token(by=shop.owner, token=made.token, now=before(-1))
    assert (again.revoked_at, again.revoked_by) == (NOW, shop.manager)


def test_no_clock_put_back_opens_a_revoked_token(shop: Shop, device: Callable[..., Device]) -> None:
    made = device("read")
    record.revoke_device_token(by=shop.manager, token=made.token, now=NOW)
    for days in (-400, -1, 1, 400):
        with time_machine.travel(before(days=-days), tick=False):
            assert made.get("/api/plan").status_code == 401, days


def test_each_site_sees_its_own_alone(bow: Bow, shop: Shop, camp: Shop, device: Callable[..., Device]) -> None:
    theirs = device("read", at=camp)
    assert theirs.get("/api/bows/L-1").status_code == 404
    for address in ("/api/due", "/api/bows", "/api/orders"):
        assert theirs.get(address).json() == {"total": 0, "items": []}
    assert device("read").get("/api/bows").json()["total"] == 1


def test_its_use_is_noted_to_the_hour(shop: Shop, device: Callable[..., Device]) -> None:
    made = device("read")
    for hours, noted in ((0, NOW), (0.5, NOW), (1.5, before(hours=-1.5))):
        with time_machine.travel(before(hours=-hours), tick=False):
            assert made.get("/api/plan").status_code == 200
        assert DeviceToken.objects.get(pk=made.token.pk).used_at == noted


@pytest.mark.parametrize(
    ("name", "scopes", "said"), [(" ", ["read"], "no name"), ("x", [], "choose one"), ("x", ["all"], "choose")]
)
def test_what_is_refused(shop: Shop, name: str, scopes: list[str], said: str) -> None:
    with pytest.raises(record.Refused, match=said):
        record.make_device_token(by=shop.owner, site=shop.site, name=name, scopes=scopes, now=NOW)
    assert not Person.objects.filter(username__startswith="device-").exists()


class TestLimits:
    def test_too_many_requests_in_a_minute(
        self, shop: Shop, device: Callable[..., Device], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(limits, "REQUESTS_A_WINDOW", 3)
        made, other = device("read"), device("read")
        with time_machine.travel(NOW, tick=False):
            assert [made.get("/api/plan").status_code for _ in range(5)] == [200, 200, 200, 429, 429]
            response = made.get("/api/plan")
            assert response["Retry-After"] == "60"
            assert response.json()["unit"] == "requests a minute"
            assert other.get("/api/plan").status_code == 200
        with time_machine.travel(before(hours=-1 / 60), tick=False):
            assert made.get("/api/plan").status_code == 200

    def test_too_many_items_in_a_minute(
        self, bow: Bow, device: Callable[..., Device], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(limits, "ITEMS_A_WINDOW", 3)
        made = device("shots")
        assert made.send("/api/shots", {"items": [shots(key=f"{n}") for n in range(3)]}).status_code == 200
        assert made.send("/api/shots", {"items": [shots(key="more")]}).status_code == 429

    def test_guessing_is_slow(self, shop: Shop, device: Callable[..., Device]) -> None:
        guess = {"Authorization": "Bearer bb_guess"}
        found = [Client().get("/api/due", headers=guess).status_code for _ in range(limits.FAILURES_A_WINDOW + 1)]
        assert found == [401] * limits.FAILURES_A_WINDOW + [429]

    def test_who_guessed_is_answered_again_in_the_next_minute(
        self, shop: Shop, device: Callable[..., Device], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(limits, "FAILURES_A_WINDOW", 2)
        guess, made = {"Authorization": "Bearer bb_guess"}, device("read")
        with time_machine.travel(NOW, tick=False) as clock:
            for _ in range(2):
                Client().get("/api/due", headers=guess)
            refused = made.get("/api/plan")
            assert (refused.status_code, refused["Retry-After"]) == (429, "60")
            clock.shift(59)
            assert made.get("/api/plan").status_code == 429
            clock.shift(1)
            assert made.get("/api/plan").status_code == 200

    def test_with_the_broker_away_it_counts_on(
        self, shop: Shop, device: Callable[..., Device], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        class Away:
            def add(self, *_: object, **__: object) -> None:
                raise BrokerAway("no broker")

            get = add

        monkeypatch.setattr(shared_counts, "caches", {"shared": Away(), "default": caches["default"]})
        monkeypatch.setattr(limits, "REQUESTS_A_WINDOW", 2)
        made = device("read")
        with time_machine.travel(NOW, tick=False):
            assert [made.get("/api/plan").status_code for _ in range(3)] == [200, 200, 429]
