"""The nightly tasks through a real worker on a real Valkey: sites side by side, a failed one tried again."""

from datetime import UTC, datetime, timedelta

import pytest

from service import tasks
from service.celery import app
from service.models import NightlyRun, Plan
from service.night.run import MOST_TRIES
from tests import personas
from tests.committed import committed_book
from tests.machinery import Process, wait_for

__all__ = ["committed_book"]


@pytest.mark.broker
def test_a_worker_does_the_nights_of_all_sites_and_a_second_call_nothing(
    committed_book: None, worker: Process, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = datetime.now(UTC)
    monkeypatch.setattr(personas, "NOW", now)
    shops = [personas.shop(), personas.shop("ridgecamp", time_zone="UTC")]
    for shop in shops:
        personas.fitted_bow(shop)
    night = now.date()
    for _ in range(2):
        for shop in shops:
            tasks.night_of_site.delay(shop.site.pk, night.isoformat())
    wait_for("both nights", lambda: NightlyRun.objects.exclude(ended_at=None).count() == 2)
    wait_for("all four tasks", lambda: worker.log.read_text().count("succeeded") >= 4)
    assert [(one.error, one.tries) for one in NightlyRun.objects.all()] == [("", 1), ("", 1)]
    assert Plan.objects.filter(published_at=None).count() == 2


def test_the_clock_sends_both_and_every_task_is_bounded_and_backs_off() -> None:
    sent = {entry["task"] for entry in app.conf.beat_schedule.values()}
    assert {tasks.begin_nights.name, tasks.begin_mornings.name} <= sent
    longest = timedelta(seconds=app.conf.broker_transport_options["visibility_timeout"])
    for task in (tasks.night_of_site, tasks.send_morning):
        assert timedelta(seconds=task.time_limit) < longest, "else the broker gives it to a second worker"
        assert task.soft_time_limit < task.time_limit
        assert (task.max_retries, task.retry_backoff) == (MOST_TRIES - 1, 30)
