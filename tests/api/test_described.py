"""The description is OpenAPI 3.1, and the service keeps to it: schemathesis sends what it allows, and what not."""

from collections.abc import Callable, Iterator
from typing import Any

import hypothesis
import pytest
import schemathesis
from django.conf import settings
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from django.test import Client

from fleet.models import Bow
from service.api.calls import description
from service.api.problems import TYPES
from service.wsgi import application
from tests.api.conftest import Device

pytestmark = pytest.mark.django_db
EXAMPLES = 40


described = schemathesis.openapi.from_dict(description())


def _unpacked(environ: dict[str, Any], start_response: Callable[..., Any]) -> Any:
    """The service, asked not to pack its answers: the caller inside this process does not unpack."""
    environ.pop("HTTP_ACCEPT_ENCODING", None)
    return application(environ, start_response)


described.app = _unpacked


@pytest.fixture(autouse=True)
def _in_this_transaction() -> Iterator[None]:
    """Calls through WSGI stay on this test's connection."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.fixture
def secret(bow: Bow, device: Callable[..., Device], unlimited: None) -> str:
    settings.ALLOWED_HOSTS.append("testserver")
    return device().secret


@described.parametrize()
@hypothesis.settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(hypothesis.HealthCheck),
)
def test_the_service_keeps_to_its_description(case: Any, secret: str) -> None:
    case.call_and_validate(headers={"Authorization": f"Bearer {secret}"})


def test_is_openapi_3_1_with_problems_of_their_own_type(client: Client) -> None:
    found = client.get("/api/openapi.json").json()
    assert found["openapi"].startswith("3.1.")
    answers = [
        (status, list(answer["content"]))
        for methods in found["paths"].values()
        for operation in methods.values()
        for status, answer in operation["responses"].items()
    ]
    assert len(answers) > 30
    assert all(
        types == ["application/problem+json" if int(status) >= 400 else "application/json"] for status, types in answers
    )
    schemes = found["components"]["securitySchemes"].values()
    assert {one["scheme"] for one in schemes} == {"bearer"}


@pytest.mark.parametrize("kind", TYPES)
def test_a_problems_type_is_an_address_that_explains_it(client: Client, kind: str) -> None:
    found = client.get(f"/api/problems/{kind}").json()
    assert found["title"] and found["next_step"]
    assert client.get("/api/problems/none").status_code == 404
