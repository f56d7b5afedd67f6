"""Real Celery workers for benchmarks, and what they used: seconds until the last task is done, memory at its peak."""

import contextlib
import os
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from service.celery import app
from tests.embedded.running import descendants
from tests.machinery import Process, database_url, tasks_go_to, wait_for

PATIENCE_S = 4 * 3_600
Call = tuple[str, list[Any]]


@dataclass(frozen=True)
class Took:
    """What some tasks took: seconds, processor seconds of the workers and of PostgreSQL, the largest process."""

    seconds: float
    worker_cpu_s: float
    database_cpu_s: float
    peak_mb: float
    tasks: int

    @property
    def each_s(self) -> float:
        """Seconds for one task, where one after the other is done."""
        return self.seconds / self.tasks

    @property
    def each_cpu_s(self) -> float:
        """Processor seconds for one task: what does not grow where other programs share the machine."""
        return (self.worker_cpu_s + self.database_cpu_s) / self.tasks


@contextmanager
def workers(count: int, broker: str, log: Path) -> Iterator[Process]:
    """A Celery worker with so many processes that knows the benchmarks' tasks."""
    command = [sys.executable, "-m", "celery", "-A", "service.celery", "worker", "--loglevel", "INFO"]
    command += ["--concurrency", str(count), "--include", "tests.benchmarks.chain_tasks"]
    env = {"DJANGO_SETTINGS_MODULE": "service.settings", "BRACEBOOK_BROKER_URL": broker}
    process = Process(command, log, {**env, "BRACEBOOK_DATABASE_URL": database_url()})
    try:
        wait_for("the worker", lambda: process.said(" ready."))
        yield process
    finally:
        process.end()


def done_by(count: int, broker: str, log: Path, calls: Sequence[Call]) -> Took:
    """Send tasks to so many worker processes and wait for all; fails with the log if one fails."""
    with tasks_go_to(broker), workers(count, broker, log) as process:
        start, before, database = time.monotonic(), _cpu_s(process.popen.pid), _database_cpu_s()
        for name, arguments in calls:
            app.send_task(name, arguments)
        wait_for("every task", lambda: _done(process) == len(calls), PATIENCE_S)
        took = time.monotonic() - start
        used = _cpu_s(process.popen.pid) - before, _database_cpu_s() - database
        return Took(took, *used, _peak_mb(process), len(calls))


def _done(process: Process) -> int:
    process.said(" ready.")
    text = process.log.read_text(errors="replace")
    if "raised unexpected" in text:
        pytest.fail(text[text.index("raised unexpected") - 200 :][:4_000])
    time.sleep(0.2)
    return text.count(" succeeded in ")


def _peak_mb(process: Process) -> float:
    """The largest of the worker's processes (proc(5): VmHWM)."""
    found = []
    for pid in [process.popen.pid, *descendants(process.popen.pid)]:
        status = Path(f"/proc/{pid}/status").read_text()
        found += [int(line.split()[1]) / 1024 for line in status.splitlines() if line.startswith("VmHWM")]
    return max(found)


def _cpu_s(pid: int) -> float:
    """Processor seconds of a process and all it began, ended ones that it waited for too (proc(5): stat)."""
    ticks = 0
    for one in [pid, *descendants(pid)]:
        with contextlib.suppress(OSError):
            ticks += sum(map(int, Path(f"/proc/{one}/stat").read_text().rpartition(")")[2].split()[11:15]))
    return ticks / os.sysconf("SC_CLK_TCK")


def _database_cpu_s() -> float:
    """Of the PostgreSQL server, which runs on this machine."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        status = Path(f"/proc/{cursor.fetchone()[0]}/stat").read_text()
    return _cpu_s(int(status.rpartition(")")[2].split()[1]))


def niceness() -> int:
    """How nice this process is: workers begin with the same."""
    return os.nice(0)
