"""A small crowd for some seconds, on both engines: no error, nothing lost. The larger one is in tests/benchmarks."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.load.crowd import Crowd, Size
from tests.load.judged import assert_nothing_lost
from tests.load.serving import by_compose, by_start, environment_of, made

pytestmark = pytest.mark.broker
SMALL, SECONDS, SCALE = Size(phones=6, readers=3, loggers=2, logger_waits_s=2.0), 8.0, 0.002


def test_on_the_embedded_default(tmp_path: Path) -> None:
    env = environment_of(tmp_path / "data")
    book, since = made(env, SCALE, people=2, devices=SMALL.loggers), datetime.now(UTC)
    with by_start(tmp_path / "data") as port:
        crowd = Crowd(port, book)
        crowd.run(SMALL, SECONDS)
        assert_nothing_lost(crowd, env, since)


def test_on_postgresql_and_redis(tmp_path: Path, postgresql_database: str, redis_server: str) -> None:
    env = environment_of(tmp_path / "data", DATABASE_URL=postgresql_database, BROKER_URL=redis_server)
    book, since = made(env, SCALE, people=2, devices=SMALL.loggers), datetime.now(UTC)
    with by_compose(env, tmp_path) as port:
        crowd = Crowd(port, book)
        crowd.run(SMALL, SECONDS)
        assert_nothing_lost(crowd, env, since)
