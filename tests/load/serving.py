"""A book served for a crowd: as `manage.py start` does it, and by the commands of docker-compose.yml."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from service.embedded import commands
from service.embedded.address import Address
from tests.embedded.running import Start, free_port
from tests.faults.serving import ask, environment, make_tables, run
from tests.machinery import programs, wait_for

PROCESSES, THREADS = 2, 4
"""What both run by default; a test holds the compose file to it (`tests/embedded/test_compose.py`)."""


def made(env: dict[str, str], scale: float, people: int, devices: int) -> dict[str, Any]:
    """Make and fill the book; who may sign in, and the devices."""
    make_tables(env)
    sized = {**env, "BRACEBOOK_BENCHMARK_SCALE": str(scale)}
    told: dict[str, Any] = json.loads(run(sized, "-m", "tests.load.book", str(people), str(devices)).splitlines()[-1])
    return told


@contextmanager
def by_start(data: Path) -> Iterator[int]:
    """The embedded default: SQLite, Valkey, two web processes, two workers; yields the port."""
    start = Start(data, free_port(), BRACEBOOK_WORKER_PROCESSES=str(PROCESSES))
    try:
        yield start.wait_until_open().port
    finally:
        start.process.end()


@contextmanager
def by_compose(env: dict[str, str], folder: Path) -> Iterator[int]:
    """The compose file's web server, worker and clock, on the services that the environment names; yields the port."""
    port = free_port()
    with programs(folder, env) as begin:
        begin("web", commands.web(Address("127.0.0.1", port), processes=PROCESSES, threads=THREADS))
        worker = begin("worker", commands.worker(processes=PROCESSES))
        begin("beat", commands.beat())
        wait_for("the worker", lambda: worker.said(" ready."))
        wait_for("the web server", lambda: ask(port, "/health/ready")[0] == 200)
        yield port


def environment_of(data: Path, **settings: str) -> dict[str, str]:
    """The programs' environment: the data directory and, where they are not embedded, database and broker."""
    data.mkdir(exist_ok=True)
    return environment(data, **settings)
