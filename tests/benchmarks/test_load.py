"""A crowd of a size that a large range never sees, on 1,000 bows: nothing lost, and how long each kind of request took.

    pytest tests/benchmarks/test_load.py -s
Phones, readers and loggers share the machine with what serves them. "At once": each phone sends its next check as soon
as the last was answered, so the line is always full; "by hand": it takes 5 s or so between two, which is still quick.
"""

import os
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.faults.postgresql import PostgreSQL
from tests.load.crowd import Crowd, Size
from tests.load.judged import assert_nothing_lost, table
from tests.load.serving import by_compose, by_start, environment_of, made

pytestmark = pytest.mark.broker
SECONDS = float(os.environ.get("BRACEBOOK_BENCHMARK_SECONDS", "60"))
BOOK_SCALE, PEOPLE, DEVICES = 0.1, 4, 5
CROWDS = {
    "at once": Size(phones=50, readers=20, loggers=DEVICES),
    "by hand": Size(phones=50, readers=20, loggers=DEVICES, phone_waits_s=5.0),
}


@pytest.fixture
def durable() -> Iterator[PostgreSQL]:
    """A PostgreSQL with the engine's own defaults: a commit is on the disk."""
    server = PostgreSQL().start()
    yield server
    server.remove()


def through(port: int, book: dict, env: dict[str, str], name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each crowd in turn; what it did is judged before the next comes."""
    before: frozenset[str] = frozenset()
    for title, size in CROWDS.items():
        crowd, since = Crowd(port, book, title.replace(" ", "-")), datetime.now(UTC)
        crowd.run(size, SECONDS)
        with capsys.disabled():
            print(f"\n{name}, {title}, {SECONDS:g} s, {len(crowd.checks)} checks:\n{table(crowd, SECONDS)}")
        assert_nothing_lost(crowd, env, since, before)
        before |= crowd.checks


def test_on_the_embedded_default(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    env = environment_of(tmp_path / "data")
    book = made(env, BOOK_SCALE, PEOPLE, DEVICES)
    with by_start(tmp_path / "data") as port:
        through(port, book, env, "manage.py start (SQLite)", capsys)


def test_on_postgresql_and_redis(
    tmp_path: Path, durable: PostgreSQL, redis_server: str, capsys: pytest.CaptureFixture[str]
) -> None:
    env = environment_of(tmp_path / "data", DATABASE_URL=durable.url, BROKER_URL=redis_server)
    book = made(env, BOOK_SCALE, PEOPLE, DEVICES)
    with by_compose(env, tmp_path) as port:
        through(port, book, env, "the compose file's commands (PostgreSQL, Redis)", capsys)
