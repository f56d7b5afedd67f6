"""Ten thousand malformed bodies: each is answered with a problem, and none with a fault of the service."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.test import RequestFactory
from django.urls import resolve
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from fleet.models import Bow, Shots
from tests.api.conftest import Device, reading, shots

pytestmark = pytest.mark.django_db
BODIES = 10_000
ENDPOINTS = 2
AT_A_TIME = 20
CALM = settings(
    max_examples=BODIES // ENDPOINTS // AT_A_TIME,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)
ODD_NUMBERS = [0, -1, 1.5, 10**18, -(10**18), 10**400, 1e308, float("nan"), float("inf"), True, 2**63, -(2**63) - 1]
ODD_TEXTS = [
    "",
    "\x00",
    "\ud800",
    "\U0010ffff",
    "L-1\n",
    "9" * 5_000,
    "2026-13-45T99:99:99Z",
    "0001-01-01T00:00:00+23:59",
    "9999-12-31T23:59:60-23:59",
    "'; DROP TABLE fleet_shots; --",
]
leaves = st.one_of(
    st.none(),
    st.booleans(),
    st.sampled_from(ODD_NUMBERS),
    st.sampled_from(ODD_TEXTS),
    st.integers(),
    st.floats(),
    st.text(max_size=30),
)
values = st.recursive(
    leaves,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=8), inner, max_size=4)),
    max_leaves=8,
)


@st.composite
def spoilt(draw: Any, whole: dict[str, Any]) -> dict[str, Any]:
    """A good item with some of its parts made odd, dropped or doubled under another name."""
    item = dict(whole)
    for name in draw(st.lists(st.sampled_from(sorted(whole)), min_size=1, max_size=3, unique=True)):
        match draw(st.integers(0, 3)):
            case 0:
                del item[name]
            case 1:
                item[draw(st.text(max_size=10))] = item.pop(name)
            case _:
                item[name] = draw(values)
    return item


def bodies(whole: dict[str, Any]) -> Any:
    """Texts that are not JSON, JSON that is no batch, and batches of spoilt items."""
    batch = st.lists(spoilt(whole), max_size=3).map(lambda items: {"items": items})
    content = st.one_of(
        values,
        batch,
        st.fixed_dictionaries({"items": values}),
        st.fixed_dictionaries({"items": st.just([whole]), "more": values}),
    )
    written = content.map(lambda one: json.dumps(one).encode())
    cut = st.tuples(written, st.integers(0, 60)).map(lambda pair: pair[0][: pair[1]])
    deep = st.integers(1, 3_000).map(lambda depth: b"[" * depth)
    return st.one_of(written, cut, st.binary(max_size=60), deep)


@pytest.fixture
def sender(bow: Bow, device: Callable[..., Device], unlimited: None) -> Device:
    return device()


@pytest.mark.parametrize(("address", "whole"), [("/api/shots", shots()), ("/api/readings", reading())])
def test_every_one_is_answered(sender: Device, address: str, whole: dict[str, Any]) -> None:
    answered = 0

    @CALM
    @given(st.lists(bodies(whole), min_size=AT_A_TIME, max_size=AT_A_TIME))
    def send(some: list[bytes]) -> None:
        nonlocal answered
        for body in some:
            _answer(sender, address, body)
            answered += 1

    send()
    assert answered >= BODIES // ENDPOINTS


def _answer(sender: Device, address: str, body: bytes) -> None:
    """What would be a 500 is raised here; the rest is a problem, or a batch of answered items."""
    headers = {"Authorization": f"Bearer {sender.secret}"}
    response = resolve(address).func(RequestFactory().post(address, body, "application/json", headers=headers))
    found = json.loads(response.content)
    if response.status_code == 200:
        for one in found["items"]:
            assert (one["status"] == "refused" and one["problem"]["detail"]) or one["status"] in {"added", "known"}
        return
    assert response.status_code in {400, 413, 415, 422}, body
    assert response["Content-Type"] == "application/problem+json"
    assert {"type", "title", "status", "detail", "next_step"} <= found.keys()


@pytest.mark.parametrize(
    "sent", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", ""]
)
def test_a_body_that_is_no_json_by_its_own_word(sender: Device, sent: str) -> None:
    response = sender.send("/api/shots", {"items": [shots()]}, sent)
    assert (response.status_code, response.json()["allowed"]) == (415, "application/json")


def test_more_than_is_taken_at_once(sender: Device) -> None:
    items = [shots(key=f"k-{number}") for number in range(1_001)]
    response = sender.send("/api/shots", {"items": items})
    assert response.status_code == 422
    assert response.json()["errors"][0]["pointer"] == "#/items"
    assert sender.send("/api/shots", b" " * (9 * 1024 * 1024)).status_code == 413
    assert not Shots.objects.exists()
