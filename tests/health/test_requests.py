"""Ids of requests: on the answer, in the log, believed from a proxy alone; and lines that a program reads."""

import io
import json
import logging
from collections.abc import Iterator

import pytest
from django.conf import settings as configured
from django.test import Client
from pythonjsonlogger.json import JsonFormatter

from service.health.log_ids import WithIds, current_id

GIVEN = "a1b2c3d4-from-the-proxy"


@pytest.fixture
def lines() -> Iterator[io.StringIO]:
    """What the service's own handler writes, as it is configured."""
    written = io.StringIO()
    handler = logging.StreamHandler(written)
    handler.addFilter(WithIds())
    form = configured.LOGGING["formatters"]["json"]
    handler.setFormatter(JsonFormatter(form["format"], rename_fields=form["rename_fields"]))
    logger = logging.getLogger("bracebook")
    level = logger.level
    logger.addHandler(handler)
    logger.setLevel(logging.INFO)
    yield written
    logger.removeHandler(handler)
    logger.setLevel(level)


@pytest.mark.django_db
def test_each_request_has_one_id_on_its_answer_and_in_its_line(lines: io.StringIO) -> None:
    first, second = Client().get("/sign-in/"), Client().get("/sign-in/?next=/bows/SECRET/")
    assert first["X-Request-ID"] != second["X-Request-ID"]
    told = [json.loads(line) for line in lines.getvalue().splitlines()]
    assert [one["request_id"] for one in told] == [first["X-Request-ID"], second["X-Request-ID"]]
    assert told[0] | {"method": "GET", "view": "sign-in", "status": 200, "level": "INFO"} == told[0]
    assert told[0]["seconds"] > 0
    assert "SECRET" not in lines.getvalue()
    assert current_id.get() == ""


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("behind_proxy", "given", "believed"),
    [
        (True, GIVEN, True),
        (False, GIVEN, False),
        (True, "short", False),
        (True, "a" * 65, False),
        (True, 'x"\n{}aaaaaa', False),
    ],
)
def test_an_id_is_believed_from_a_proxy_alone(settings: object, behind_proxy: bool, given: str, believed: bool) -> None:
    settings.BEHIND_PROXY = behind_proxy  # type: ignore[attr-defined]
    assert (Client().get("/sign-in/", headers={"X-Request-ID": given})["X-Request-ID"] == given) is believed


@pytest.mark.django_db
def test_health_is_asked_too_often_to_be_logged(lines: io.StringIO) -> None:
    Client().get("/health/ready")
    assert lines.getvalue() == ""
