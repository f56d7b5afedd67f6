"""A chain's nights on PostgreSQL, by real Celery workers on a real Valkey: how time and memory grow with its size.

By itself, with a PostgreSQL named in BRACEBOOK_TEST_DATABASE_URL (the full table takes an hour or so):
    BRACEBOOK_BENCHMARK_CHAIN=2,20,200 pytest tests/benchmarks/test_chain.py -s
The whole rebuild is measured on every site, by two workers; by one on no more than SAMPLED sites, and the plans on one
site in PLANNED_IN, spread over the chain. Sites are drawn alike and worked alike, so the rest follows by
multiplication; the lines say what was counted so. BRACEBOOK_BENCHMARK_CHAIN_WHOLE=0 computes wear on the sampled sites
alone by two workers as well, and the next day on them: a third of the time.
"""

import os
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.db import connection

from fleet.models import Fitting, Person, Shots, Site
from service import schedule
from service.models import BowUse, CordWear, Need, NightlyRun, Plan, SiteUse, SpecLife, StaleBow, TimingDrift
from tests.benchmarks.chain_bows import BOWS, NOW
from tests.benchmarks.chain_of_sites import add_sites, found_chain, next_day
from tests.benchmarks.workers import Call, Took, done_by, niceness
from tests.committed import committed_book

__all__ = ["committed_book"]
pytestmark = [pytest.mark.postgres, pytest.mark.broker]

SIZES = [int(size) for size in os.environ.get("BRACEBOOK_BENCHMARK_CHAIN", "2").split(",")]
WHOLE = os.environ.get("BRACEBOOK_BENCHMARK_CHAIN_WHOLE", "1") != "0"
SAMPLED, PLANNED_IN, WHOLE_NIGHTS = 20, 50, 2
TIMES_A_SITE_AT_MOST = 1.5
"""How much longer a site of the largest chain may take than one of the smallest."""


class Nights:
    """Runs the steps of a night over the chain as it is, and tells what they took."""

    def __init__(self, broker: str, logs: Path) -> None:
        self.broker, self.logs, self.runs = broker, logs, 0

    def run(self, workers: int, calls: list[Call]) -> Took:
        self.runs += 1
        return done_by(workers, self.broker, self.logs / f"{self.runs}.log", calls)

    def over(self, task: str, sites: list[Site], workers: int, day: int = 0) -> Took:
        """One step over some sites, on the morning so many days later."""
        now = (NOW + timedelta(days=day)).isoformat()
        return self.run(workers, [(task, [site.pk, now]) for site in sites])

    def learn(self, day: int = 0) -> Took:
        return self.run(1, [("benchmark.learn", [(NOW + timedelta(days=day)).isoformat()])])

    def whole(self, sites: list[Site], workers: int) -> Took:
        """Nights as they are sent by the clock."""
        now = NOW.isoformat()
        return self.run(workers, [("benchmark.night_of_site", [one.pk, NOW.date().isoformat(), now]) for one in sites])


def forget() -> None:
    """Everything computed, so that the next night begins from nothing."""
    with connection.cursor() as cursor:
        tables = (CordWear, TimingDrift, Need, SpecLife, SiteUse, BowUse, StaleBow, NightlyRun, Plan)
        cursor.execute(f"TRUNCATE {', '.join(one._meta.db_table for one in tables)} CASCADE")


def spread(sites: list[Site], most: int) -> list[Site]:
    """At most so many sites, evenly over the chain."""
    step = max(1, len(sites) // most)
    return sites[::step][:most]


def size_gb() -> float:
    """The database on disk."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return float(cursor.fetchone()[0]) / 1e9


def told(name: str, took: Took, sites: int) -> str:
    """A line of the table; `sites` is how many the whole chain has."""
    whole = "" if took.tasks in (1, sites) else f", so {took.each_s * sites:.0f} s for {sites}"
    used = f"{took.worker_cpu_s:.0f} + {took.database_cpu_s:.0f} in PostgreSQL, {took.each_cpu_s:.1f} each"
    memory = f"largest process {took.peak_mb:.0f} MB"
    return f"  {name}: {took.seconds:.0f} s for {took.tasks}{whole}; processor seconds {used}; {memory}"


def a_day_of_use(sites: list[Site]) -> float:
    """Every bow's shots of a day, entered through the register; seconds."""
    begun, owner = time.monotonic(), Person.objects.get(username="owner")
    for number, site in enumerate(sites):
        next_day(number, site, owner, 0)
    return time.monotonic() - begun


class Book:
    """The chain in the database, and a place to say what was measured."""

    def __init__(self, nights: Nights, say: Callable[[str], None]) -> None:
        self.nights, self.say = nights, say
        self.sites: list[Site] = []
        self.computed_each_cpu_s: dict[int, float] = {}

    def tell(self, name: str, took: Took) -> Took:
        self.say(told(name, took, len(self.sites)))
        return took

    def measure(self) -> None:
        """A rebuild from nothing by one and by two workers, plans, a day's use and the night after it."""
        self.sites = list(Site.objects.order_by("code"))
        shots, size = Shots.objects.count(), len(self.sites)
        at = f"{datetime.now():%H:%M:%S}, niceness {niceness()}"
        self.say(f"{size} sites, {size * BOWS:,} bows, {shots:,} shot rows, {size_gb():.2f} GB ({at})")
        forget()
        self.tell("learning from the whole book", self.nights.learn())
        self.tell("wear and needs, 1 worker", self.compute(spread(self.sites, SAMPLED), 1))
        saved = wear_of(spread(self.sites, SAMPLED))
        both = self.tell("wear and needs, 2 workers", self.compute(self.computed, 2))
        self.computed_each_cpu_s[size] = both.each_cpu_s
        assert wear_of(spread(self.sites, SAMPLED)) == saved, "the same whoever computes it"
        of_these = Fitting.objects.filter(removed_at=None, bow__site__in=self.computed)
        assert of_these.exists() and not of_these.filter(wear=None).exists()
        self.plans()
        self.a_night_later()
        self.say(f"  now {size_gb():.2f} GB")

    @property
    def computed(self) -> list[Site]:
        """The sites whose wear two workers compute."""
        return self.sites if WHOLE else spread(self.sites, SAMPLED)

    def compute(self, sites: list[Site], workers: int, day: int = 0) -> Took:
        return self.nights.over("benchmark.compute_site", sites, workers, day)

    def plans(self) -> None:
        some = spread(self.sites, max(2, len(self.sites) // PLANNED_IN))
        horizon = NOW.date() + timedelta(days=schedule.DEFAULT_DAYS)
        needs = Need.objects.filter(bow__site__in=some)
        counted = f"{needs.count() / len(some):.0f} needs a site"
        inside = f"{needs.filter(earliest_on__lt=horizon).count() / len(some):.0f} of them inside the plan's days"
        self.say(f"  {counted}, {inside}")
        for workers in (1, 2):
            Plan.objects.all().delete()
            self.tell(
                f"plans, {workers} worker{'s' * (workers > 1)}", self.nights.over("benchmark.draft_site", some, workers)
            )
        reports = [plan.report for plan in Plan.objects.all()]
        assert len(reports) == len(some) and all(one["solved"] for one in reports)
        if len(self.sites) <= WHOLE_NIGHTS:
            forget()
            self.tell("whole nights without the learning, 2 workers", self.nights.whole(self.sites, 2))

    def a_night_later(self) -> None:
        entered = a_day_of_use(self.computed)
        self.say(f"  a day's shots of every bow of {len(self.computed)} sites entered in {entered:.0f} s")
        self.tell("learning, a night later", self.nights.learn(1))
        later = NOW + timedelta(days=1)
        self.tell("wear and needs, a night later, 2 workers", self.compute(self.computed, 2, 1))
        assert not CordWear.objects.filter(fitting__bow__site__in=self.computed).exclude(as_of=later).exists()
        assert not StaleBow.objects.filter(bow__site__in=self.computed).exists()
        with connection.cursor() as cursor:
            # The next size begins with the day as it was.
            cursor.execute("DELETE FROM fleet_shots WHERE entered_at >= %s", [later])


def wear_of(sites: list[Site]) -> list[tuple[int, float]]:
    """Life used of every cord of some sites."""
    rows = CordWear.objects.filter(fitting__bow__site__in=sites).order_by("fitting")
    return list(rows.values_list("fitting_id", "life_used"))


def test_nights_of_a_chain(
    committed_book: None, valkey: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def say(line: str) -> None:
        with capsys.disabled():
            print(line, flush=True)

    chain, built = found_chain(), 0
    book = Book(Nights(valkey, tmp_path), say)
    for size in sorted(SIZES):
        add_sites(chain, built, size)
        built = size
        book.measure()
    each = book.computed_each_cpu_s
    assert each[max(each)] <= TIMES_A_SITE_AT_MOST * each[min(each)], "a site's night must not grow with the chain"
