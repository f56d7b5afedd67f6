"""The database and the broker beside the service die and come back while it runs and people go on sending checks."""

import json
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import psycopg
import pytest

from service import upkeep
from service.celery import app
from tests.faults.postgresql import PostgreSQL
from tests.faults.serving import AtTheCounter, Served, ask, checking, environment, prepare, run, served
from tests.machinery import KeyValueServer, redis_program, tasks_go_to, wait_for

pytestmark = pytest.mark.broker
BOWS = 3


@dataclass
class Large:
    """Web and worker on a PostgreSQL and a Redis of this test's own."""

    database: PostgreSQL
    broker: KeyValueServer
    env: dict[str, str]
    programs: Served
    counter: AtTheCounter
    secret: str

    def kept(self) -> list[str]:
        """Keys of the checks in the book."""
        with psycopg.connect(self.database.url) as connection:
            return sorted(key for (key,) in connection.execute("SELECT key FROM fleet_turnaroundcheck"))

    def tasks_done(self) -> int:
        return self.programs.worker.log.read_text().count("succeeded")

    def still_the_same(self) -> bool:
        """Neither program was started again."""
        return self.programs.web.popen.poll() is None and self.programs.worker.popen.poll() is None


@pytest.fixture
def large(tmp_path: Path) -> Iterator[Large]:
    database, broker = PostgreSQL(), KeyValueServer(redis_program(), tmp_path)
    try:
        database.start()
        broker.start()
        env = environment(tmp_path / "data", DATABASE_URL=database.url, BROKER_URL=broker.url)
        secret = prepare(env, BOWS)
        with served(env, tmp_path) as programs:
            yield Large(database, broker, env, programs, AtTheCounter(programs.port).sign_in(), secret)
    finally:
        broker.end()
        database.remove()


def test_nothing_acknowledged_is_lost_and_nobody_is_told_a_lie(large: Large) -> None:
    _broker_dies(large)
    _database_crashes(large)
    assert large.still_the_same()
    assert "equals a rebuild" in run(large.env, "manage.py", "rebuild", "--check")


def _broker_dies(large: Large) -> None:
    """Pages and checks need no broker; what it held is there when it comes back, and the worker goes on by itself."""
    counter = large.counter
    assert counter.check("K-0") == 200
    large.broker.kill()
    with checking(counter, BOWS):
        wait_for("checks", lambda: counter.count()[200] >= 5)
    assert counter.look("/turnaround/")[0] == 200
    assert ask(large.programs.port, "/health/ready")[:1] == (200,)
    assert '"broker": false' in ask(large.programs.port, "/health/ready")[1]
    large.broker.start()
    _a_task_is_done(large)
    assert set(counter.sent.values()) == {200}
    assert large.kept() == counter.acknowledged


def _database_crashes(large: Large) -> None:
    """While it is away every request is told so; it is back without anybody starting the service again."""
    counter, port = large.counter, large.programs.port
    with checking(counter, BOWS):
        already = counter.count()[200]
        wait_for("checks", lambda: counter.count()[200] >= already + 3)
        large.database.stop("immediate")
        wait_for("requests that are told so", lambda: counter.count()[503] >= 3)
        status, text, headers = counter.look("/turnaround/")
        assert (status, headers["retry-after"]) == (503, "30") and "away for a moment" in text
        _a_device_is_told_so(large)
        assert (ask(port, "/health/ready")[0], ask(port, "/health/live")[0]) == (503, 200)
        with tasks_go_to(large.broker.url):
            upkeep.refresh_stale.delay()
        wait_for("a task that is put off", lambda: "Retry in" in large.programs.worker.log.read_text())
        before = counter.count()[200]
        large.database.start()
        began = time.monotonic()
        wait_for("checks again", lambda: counter.count()[200] >= before + 3)
        assert time.monotonic() - began < 20
        assert ask(port, "/api/due", large.secret)[0] == 200
    _a_task_is_done(large)
    assert set(counter.sent.values()) <= {200, 503}
    kept = large.kept()
    assert len(kept) == len(set(kept))
    # A crash may fall between the commit and its answer: such a check is there, and sent again it is known.
    assert set(counter.acknowledged) <= set(kept) <= set(counter.sent)
    for key in set(counter.sent) - set(counter.acknowledged):
        assert counter.check("K-0", key) == 200 or key in kept
    assert len(large.kept()) == len(counter.sent)


def _a_device_is_told_so(large: Large) -> None:
    """As problem details (RFC 9457), with the seconds to wait."""
    status, text, headers = ask(large.programs.port, "/api/due", large.secret)
    assert (status, headers["retry-after"]) == (503, "30")
    assert headers["content-type"] == "application/problem+json"
    assert json.loads(text)["type"] == "/api/problems/away"


def _a_task_is_done(large: Large) -> None:
    before = large.tasks_done()
    with tasks_go_to(large.broker.url):
        app.send_task("celery.backend_cleanup")
    wait_for("the worker", lambda: large.tasks_done() > before, 90)
