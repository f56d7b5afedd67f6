"""A shop with a bow, and calls as a device makes them."""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count
from typing import Any

import pytest
import time_machine
from django.core.cache import caches
from django.http import HttpResponse
from django.test import Client

from fleet import record
from fleet.models import Bow, DeviceToken
from service.api import limits
from tests import personas
from tests.personas import NOW, Shop

EVERY_SCOPE = ("shots", "readings", "read")


@dataclass(frozen=True)
class Device:
    """A token with its secret."""

    token: DeviceToken
    secret: str

    def get(self, address: str, **query: Any) -> HttpResponse:
        """Ask for a list."""
        return Client().get(address, query, headers={"Authorization": f"Bearer {self.secret}"})

    def send(self, address: str, content: Any, content_type: str = "application/json") -> HttpResponse:
        """Send a body: bytes as they are, all else as JSON."""
        body = content if isinstance(content, bytes) else json.dumps(content).encode()
        return Client().post(address, body, content_type, headers={"Authorization": f"Bearer {self.secret}"})

    def results(self, address: str, *items: dict[str, Any]) -> list[dict[str, Any]]:
        """Send items and take the answer apart."""
        response = self.send(address, {"items": list(items)})
        assert response.status_code == 200, response.content
        return list(response.json()["items"])


@pytest.fixture(autouse=True)
def _at_now() -> Iterator[None]:
    with time_machine.travel(NOW):
        yield


@pytest.fixture(autouse=True)
def _counted_anew() -> None:
    caches["default"].clear()
    caches["shared"].clear()


@pytest.fixture
def shop(db: None) -> Shop:
    return personas.shop()


@pytest.fixture
def camp(shop: Shop) -> Shop:
    return personas.shop("ridgecamp", units="metric", time_zone="Europe/Zurich")


@pytest.fixture
def bow(shop: Shop) -> Bow:
    return personas.fitted_bow(shop, "single", "L-1")


@pytest.fixture
def device(shop: Shop) -> Callable[..., Device]:
    """Makes a token of the shop, or of another site, for some kinds of thing."""

    numbers = count(3)

    def make(*scopes: str, at: Shop = shop, name: str = "") -> Device:
        name = name or f"Lane {next(numbers)} counter"
        made = record.make_device_token(by=shop.owner, site=at.site, name=name, scopes=scopes or EVERY_SCOPE, now=NOW)
        return Device(*made)

    return make


@pytest.fixture
def unlimited(monkeypatch: pytest.MonkeyPatch) -> None:
    """As many requests a minute as a test likes."""
    for name in ("REQUESTS_A_WINDOW", "ITEMS_A_WINDOW", "FAILURES_A_WINDOW"):
        monkeypatch.setattr(limits, name, 10**9)


def shots(**changes: Any) -> dict[str, Any]:
    """An entry of shots that the book takes."""
    given = {"key": "k-1", "bow": "L-1", "start": "2026-06-30T10:00:00Z", "end": "2026-06-30T11:00:00Z", "count": 40}
    return {**given, **changes}


def reading(**changes: Any) -> dict[str, Any]:
    """A temperature that the book takes."""
    return {"place": "Rack", "at": "2026-06-30T10:00:00+02:00", "celsius": 21.5, **changes}
