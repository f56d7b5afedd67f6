"""Alive, ready, and the figures: what machines are told, in good times and with the database or the broker away."""

import re
from collections.abc import Callable
from pathlib import Path
from unittest.mock import patch

import pytest
from django.db import OperationalError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from prometheus_client.parser import text_string_to_metric_families

from service.health import probes, signs
from service.models import FailedJob, StaleBow
from tests import personas
from tests.machinery import tasks_go_to
from tests.personas import NOW

TOKEN = "figures-for-the-watch"
NOBODY_LISTENS = "redis://127.0.0.1:1/0"


def test_alive_needs_nothing() -> None:
    """No database fixture: a query would be an error."""
    assert Client().get("/health/live").content == b"alive\n"


@pytest.mark.django_db
def test_ready_with_everything_there() -> None:
    response = Client().get("/health/ready")
    assert (response.status_code, response.json()) == (200, {"database": True, "migrated": True, "broker": True})
    assert "no-store" in response["Cache-Control"]


@pytest.mark.django_db
def test_not_ready_while_the_database_is_away() -> None:
    with patch.object(connection, "cursor", side_effect=OperationalError("server closed the connection")):
        response = Client().get("/health/ready")
    assert (response.status_code, response.json()["database"]) == (503, False)


@pytest.mark.django_db
def test_not_ready_before_its_tables_are_those_of_this_version() -> None:
    assert probes._migrations_of_this_version() >= {("fleet", "0001_register"), ("sessions", "0001_initial")}
    MigrationRecorder(connection).record_unapplied("service", "0003_nights")
    response = Client().get("/health/ready")
    assert (response.status_code, response.json()["migrated"]) == (503, False)


@pytest.mark.django_db
def test_ready_without_a_broker_and_says_so() -> None:
    with tasks_go_to(NOBODY_LISTENS):
        response = Client().get("/health/ready")
    assert (response.status_code, response.json()["broker"]) == (200, False)


@pytest.mark.django_db
class TestFigures:
    @pytest.fixture
    def figures(self, settings: object) -> Callable[[], dict[str, float]]:
        settings.METRICS_TOKEN = TOKEN  # type: ignore[attr-defined]

        def read() -> dict[str, float]:
            response = Client().get("/metrics", headers={"Authorization": f"Bearer {TOKEN}"})
            assert response.status_code == 200
            families = text_string_to_metric_families(response.content.decode())
            return {
                sample.name + str(sorted(sample.labels.items())): sample.value
                for family in families
                for sample in family.samples
            }

        return read

    def test_nobody_without_the_token(self, settings: object) -> None:
        assert Client().get("/metrics").status_code == 404
        settings.METRICS_TOKEN = TOKEN  # type: ignore[attr-defined]
        for header in ({}, {"Authorization": "Bearer wrong"}, {"Authorization": TOKEN}):
            assert Client().get("/metrics", headers=header).status_code == 401

    def test_signs_are_as_the_book_has_them(self, figures: Callable[[], dict[str, float]]) -> None:
        shop = personas.shop()
        bow = personas.fitted_bow(shop, "single")
        StaleBow.objects.get_or_create(bow=bow, defaults={"since": NOW})
        FailedJob.objects.create(task="t", task_id="i", at=signs.datetime.now(tz=NOW.tzinfo), error="e")
        found = figures()
        assert found["bracebook_database_up[]"] == found["bracebook_broker_up[]"] == 1
        assert found["bracebook_stale_bows[]"] == StaleBow.objects.count()
        assert found["bracebook_failed_jobs[]"] == 1
        assert found["bracebook_disk_free_bytes[]"] > 0

    def test_each_answer_is_counted_under_its_views_name(self, figures: Callable[[], dict[str, float]]) -> None:
        name = "bracebook_http_requests_total[('method', 'GET'), ('status', '200'), ('view', 'sign-in')]"
        before = figures().get(name, 0)
        for _ in range(3):
            Client().get("/sign-in/")
        assert figures()[name] - before == 3
        assert not any(re.search(r"view', '/", key) for key in figures()), "an address may carry a private token"

    def test_with_the_broker_away_its_figures_are_left_out(self, figures: Callable[[], dict[str, float]]) -> None:
        with tasks_go_to(NOBODY_LISTENS):
            found = figures()
        assert found["bracebook_broker_up[]"] == 0
        assert "bracebook_queue_tasks_waiting[]" not in found

    def test_with_the_database_away_it_says_that_alone(self, figures: Callable[[], dict[str, float]]) -> None:
        figures()
        with patch.object(connection, "cursor", side_effect=OperationalError("away")):
            found = figures()
        assert found["bracebook_database_up[]"] == 0
        assert "bracebook_stale_bows[]" not in found


def test_counts_lie_where_only_this_user_reads_them(settings: object) -> None:
    assert Path(settings.METRICS_DIR).stat().st_mode & 0o077 == 0  # type: ignore[attr-defined]
