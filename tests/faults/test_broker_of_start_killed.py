"""kill -9 of the broker that `start` embeds, under way: people notice nothing, and what was left over is caught up."""

import json
import os
import signal
import sqlite3
import time
import urllib.request
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from service.stale import AT_ONCE
from tests.embedded.conftest import start
from tests.faults.serving import AtTheCounter, checking, environment, prepare, run
from tests.machinery import wait_for

__all__ = ["start"]
pytestmark = pytest.mark.broker
BOWS = AT_ONCE + 2
# The clock sends the refresh each minute; it began before the book was open.
CAUGHT_UP_WITHIN_S = 150.0


def rows(data: Path, query: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(f"file:{data / 'book.sqlite3'}?mode=ro", uri=True, timeout=20)) as book:
        return book.execute(query).fetchall()


def send_shots(port: int, secret: str) -> int:
    """A counter's batch over every bow: too many to be computed at once, so they are left to the refresh."""
    end = datetime.now(UTC) - timedelta(minutes=1)
    begin = end - timedelta(minutes=30)
    items = [
        {"key": f"batch-{n}", "bow": f"K-{n}", "start": begin.isoformat(), "end": end.isoformat(), "count": 30}
        for n in range(BOWS)
    ]
    headers = {"Authorization": f"Bearer {secret}", "Content-Type": "application/json"}
    body = json.dumps({"items": items}).encode()
    with urllib.request.urlopen(
        urllib.request.Request(f"http://127.0.0.1:{port}/api/shots", body, headers), timeout=60
    ) as answer:
        return int(json.load(answer)["added"])


def test_people_notice_nothing_and_the_rest_is_caught_up(start, tmp_path: Path) -> None:
    data = tmp_path / "book"
    secret = prepare(environment(data), BOWS)
    started = start().wait_until_open()
    counter = AtTheCounter(started.port).sign_in()
    with checking(counter, 4):
        wait_for("checks", lambda: counter.count()[200] >= 3)
        for _ in range(2):
            before = counter.count()[200]
            said = started.output.count("The broker runs again.")
            os.kill(started.main_process("valkey-server"), signal.SIGKILL)
            wait_for("checks meanwhile", lambda before=before: counter.count()[200] >= before + 3)
            assert counter.look("/turnaround/")[0] == 200
            wait_for("the broker", lambda said=said: started.output.count("The broker runs again.") > said)
        os.kill(started.main_process("valkey-server"), signal.SIGKILL)
        assert send_shots(started.port, secret) == BOWS
    assert set(counter.sent.values()) == {200}
    kept = sorted(key for (key,) in rows(data, "SELECT key FROM fleet_turnaroundcheck"))
    assert kept == counter.acknowledged
    began = time.monotonic()
    wait_for("the refresh", lambda: not rows(data, "SELECT bow_id FROM service_stalebow"), CAUGHT_UP_WITHIN_S)
    assert time.monotonic() - began < CAUGHT_UP_WITHIN_S
    assert started.stop() == 0
    assert "equals a rebuild" in run(environment(data), "manage.py", "rebuild", "--check")
