"""Many sites planned by real Celery workers on a real Valkey and PostgreSQL, beside due-date-first in the same run.

Run by itself, with a PostgreSQL named in BRACEBOOK_TEST_DATABASE_URL:
    pytest tests/benchmarks/test_many_sites.py -s        (BRACEBOOK_BENCHMARK_SITES=4 for a quick look)
"""

import os
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fleet.models import Site
from service import schedule
from service.models import Need, Plan
from service.plan.greedy import first_plan
from tests.benchmarks.many_sites import many_sites
from tests.benchmarks.workers import done_by
from tests.committed import committed_book

__all__ = ["committed_book"]
pytestmark = [pytest.mark.postgres, pytest.mark.broker]

NOW = datetime(2026, 7, 1, 4, tzinfo=UTC)
SITES, NEEDS = int(os.environ.get("BRACEBOOK_BENCHMARK_SITES", "40")), 500


def planned(sites: list[Site], count: int, broker: str, log: Path) -> float:
    """Send one task per site; the seconds until the last plan is saved."""
    Plan.objects.all().delete()
    return done_by(count, broker, log, [("benchmark.draft_site", [site.pk, NOW.isoformat()]) for site in sites]).seconds


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
