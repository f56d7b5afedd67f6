"""Many sites planned by real Celery workers on a real Valkey and PostgreSQL, beside due-date-first in the same run.

Run by itself, with a PostgreSQL named in BRACEBOOK_TEST_DATABASE_URL:
    pytest tests/benchmarks/test_many_sites.py -s        (BRACEBOOK_BENCHMARK_SITES=4 for a quick look)
"""

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fleet.models import Site
from service import schedule
from service.celery import app
from service.models import Need, Plan
from service.plan.greedy import first_plan
from tests.benchmarks.many_sites import many_sites
from tests.committed import committed_book
from tests.machinery import Process, database_url, tasks_go_to, wait_for

__all__ = ["committed_book"]
pytestmark = [pytest.mark.postgres, pytest.mark.broker]

NOW = datetime(2026, 7, 1, 4, tzinfo=UTC)
SITES, NEEDS = int(os.environ.get("BRACEBOOK_BENCHMARK_SITES", "40")), 500
PATIENCE_S = 3_600


@contextmanager
def workers(count: int, broker: str, log: Path) -> Iterator[Process]:
    """A Celery worker with so many processes that knows the benchmark's task."""
    command = [sys.executable, "-m", "celery", "-A", "service.celery", "worker", "--loglevel", "INFO"]
    command += ["--concurrency", str(count), "--include", "tests.benchmarks.site_plan_task"]
    env = {"DJANGO_SETTINGS_MODULE": "service.settings", "BRACEBOOK_BROKER_URL": broker}
    process = Process(command, log, {**env, "BRACEBOOK_DATABASE_URL": database_url()})
    try:
        wait_for("the worker", lambda: process.said(" ready."))
        yield process
    finally:
        process.end()


def planned(sites: list[Site], count: int, broker: str, log: Path) -> float:
    """Send one task per site; the seconds until the last plan is saved."""
    Plan.objects.all().delete()
    with tasks_go_to(broker), workers(count, broker, log) as process:
        start = time.monotonic()
        for site in sites:
            app.send_task("benchmark.draft_site", [site.pk, NOW.isoformat()])
        wait_for("every plan", lambda: process.said("ready.") and Plan.objects.count() == len(sites), PATIENCE_S)
        return time.monotonic() - start


def test_forty_sites_of_five_hundred_needs(committed_book: None, valkey: str, tmp_path: Path) -> None:
    sites = many_sites(SITES, NEEDS, NOW)
    assert Need.objects.count() == SITES * NEEDS
    seconds, jobs = {}, {}
    for count in (1, 2):
        seconds[count] = planned(sites, count, valkey, tmp_path / f"{count}.log")
        jobs[count] = set(Plan.objects.values_list("jobs__bow", "jobs__day", "jobs__technician"))
    start = time.monotonic()
    for site in sites:
        first_plan(schedule.problem_of(site, NOW.date(), schedule.DEFAULT_DAYS, NOW))
    greedy = time.monotonic() - start
    reports = [plan.report for plan in Plan.objects.all()]
    cost, first = sum(one["objective"] for one in reports), sum(one["due_date_first"] for one in reports)
    gaps = sorted(one["gap"] for one in reports)
    print(
        f"\n{SITES} sites x {NEEDS} needs: {seconds[1]:.0f} s with one worker, {seconds[2]:.0f} s with two; "
        f"due-date-first {greedy:.0f} s in one process and {first / cost:.2f} times as dear; "
        f"gap {gaps[len(gaps) // 2]:.3f} in the middle, {gaps[-1]:.3f} at most"
    )
    assert cost < first
    assert jobs[1] == jobs[2], "the same plan whoever makes it"
