"""Every list and bow page at 10,000 bows: the server's own time, its 95th percentile, against the budget.

Time is what the process computes (request to response, database included where it is SQLite), so that a busy machine
counts little against a page; the time elapsed stands beside it. A page that is over is asked again: what other
programs push out of the processor's caches slows it by a half, and the best of RUNS counts. Run when asked for:
`pytest tests/benchmarks/test_pages.py -s`. A page that takes longer than PATIENCE_S is given up and is over.

With BRACEBOOK_BENCHMARK_BOOK the book is a copy of that SQLite file, in which big_book, busy_year and a rebuild were
done at NOW (making them takes minutes). Migrations that came since are carried out on the copy; what a rebuild derives
now and did not then is missing from it, and a page that lives on it is slow.
"""

import gc
import gzip
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
import pytest
import time_machine
from django.db import connection
from django.template.base import Template
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet import record
from fleet.models import Booking, Bow, Incident, Notice, Place, Post, Site, SpecSheet, TurnaroundCheck
from fleet.vocabulary import Role
from service import decide, schedule
from service.models import Need
from service.orders.issue import issue_now
from tests.benchmarks.big_book import BOWS, NOW, BigBook, big_book
from tests.benchmarks.busy_year import busy_year
from tests.benchmarks.conftest import PREPARED
from tests.pages.addresses import LISTS, OF_ONE_BOW, filled
from tests.pages.conftest import BACKEND

BUDGET_MS = 100.0
REQUESTS, RUNS = 20, 4
# A page so far over is over: it is asked for once more, not twenty times.
HOPELESS_MS = 10 * BUDGET_MS
PATIENCE_S = 60
HELD_TOGETHER = max(3, BOWS // 30)
# Of a fleet in use a few in a hundred want something within the plan's weeks; the big book's year leaves it on all.
BOWS_TO_ONE_IN_NEED = 40


@dataclass(frozen=True)
class Measured:
    """One page: milliseconds computed and elapsed of each request, its queries, its bytes as they are sent."""

    computed_ms: list[float]
    elapsed_ms: list[float]
    queries: int
    sent: int

    @property
    def late_ms(self) -> float:
        """The 95th percentile of what was computed."""
        return float(np.percentile(self.computed_ms, 95))

    def told(self, address: str) -> str:
        """A line of the table."""
        middle, elapsed = np.median(self.computed_ms), np.percentile(self.elapsed_ms, 95)
        return (
            f"{address[:72]:72} median {middle:8.1f} ms  p95 {self.late_ms:8.1f} ms  elapsed {elapsed:8.1f} ms  "
            f"{self.queries:4} queries  {self.sent / 1e3:6.1f} kB"
        )


@pytest.fixture
def client(db: None, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Client, BigBook]]:
    """The owner of the big book, who sees the most of every page, on its day, with wear computed."""
    # Under test Django copies the context of every part of a page that it renders; a served page does not.
    monkeypatch.setattr(Template, "_render", lambda self, context: self.nodelist.render(context))
    with time_machine.travel(NOW):
        book = prepared_book() if PREPARED else made_book()
        in_need = list(Bow.objects.order_by("pk").values_list("pk", flat=True))[::BOWS_TO_ONE_IN_NEED]
        Need.objects.exclude(bow__in=in_need).delete()
        client = Client()
        client.force_login(book.owner, backend=BACKEND)
        # As service/wsgi.py does once the pages are loaded.
        client.get("/")
        gc.collect()
        gc.freeze()
        yield client, book
        gc.unfreeze()


def made_book() -> BigBook:
    """The book with its year, computed."""
    book = big_book()
    busy_year(book)
    decide.rebuild(NOW)
    return book


def prepared_book() -> BigBook:
    """What the copied file has: its owner, its one site, its one make of bow."""
    owner = Post.objects.select_related("person").filter(role=Role.OWNER).earliest("pk").person
    with connection.cursor() as cursor:
        # Indexes that migrations made since the file was prepared are unknown to the planner until then.
        cursor.execute("ANALYZE")
    return BigBook(owner, Site.objects.get(), SpecSheet.objects.get())


def known(book: BigBook) -> dict[str, object]:
    """What the addresses name, from the middle of the book."""
    check = TurnaroundCheck.objects.filter(bow__incidents__isnull=False).select_related("bow__site").earliest("pk")
    bow, some = check.bow, list(Bow.objects.order_by("tag")[:HELD_TOGETHER])
    action = record.hold_many(by=book.owner, site=book.site, bows=some, detail="frays", picked="by hand", at=NOW)
    day = schedule.today_at(book.site, NOW)
    return {
        "tag": bow.tag,
        "find": "432",
        "lot": "LOT",
        "booking": Booking.objects.earliest("pk").pk,
        "notice": Notice.objects.earliest("pk").pk,
        "action": action.pk,
        "place": Place.objects.latest("pk").pk,
        "order": issue_now(bow, day=day, by=book.owner, now=NOW, technician=book.owner).number,
        "incident": Incident.objects.earliest("pk").pk,
        "coefficient": "activation_energy",
        "check": check.key,
    }


@contextmanager
def patience() -> Iterator[None]:
    """TimeoutError after PATIENCE_S of this process's own time."""

    def give_up(_number: int, _frame: object) -> None:
        raise TimeoutError

    before = signal.signal(signal.SIGVTALRM, give_up)
    signal.setitimer(signal.ITIMER_VIRTUAL, PATIENCE_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def measured(client: Client, address: str) -> Measured:
    """A page asked for again and again, once what a process keeps is kept."""
    computed: list[float] = []
    elapsed: list[float] = []
    assert client.get(address).status_code == 200, address
    while len(computed) < REQUESTS and (not computed or computed[0] < HOPELESS_MS):
        begun, at = time.process_time(), time.perf_counter()
        response = client.get(address)
        computed.append((time.process_time() - begun) * 1e3)
        elapsed.append((time.perf_counter() - at) * 1e3)
    with CaptureQueriesContext(connection) as queries:
        client.get(address)
    return Measured(computed, elapsed, len(queries), len(gzip.compress(response.content, 6)))


def best_of_runs(client: Client, address: str) -> Measured:
    """The run that other programs disturbed least; one is enough where it keeps the budget, or is hopeless."""
    with patience():
        best = measured(client, address)
    for _ in range(RUNS - 1):
        if not BUDGET_MS < best.late_ms < HOPELESS_MS:
            break
        with patience():
            best = min(best, measured(client, address), key=lambda one: one.late_ms)
    return best


def test_every_page_keeps_its_budget(client: tuple[Client, BigBook]) -> None:
    signed_in, book = client
    names: dict[str, object] = known(book)
    over: dict[str, float] = {}
    print(f"\n{BOWS} bows; budget {BUDGET_MS:g} ms computed at the 95th percentile of {REQUESTS} requests")
    for some in (*filled(LISTS, **names).values(), *filled(OF_ONE_BOW, **names).values()):
        for address in some:
            try:
                found = best_of_runs(signed_in, address)
            except TimeoutError:
                print(f"{address[:72]:72} given up after {PATIENCE_S} s", flush=True)
                over[address] = PATIENCE_S * 1e3
                continue
            print(found.told(address), flush=True)
            if found.late_ms > BUDGET_MS:
                over[address] = round(found.late_ms, 1)
    assert over == {}
