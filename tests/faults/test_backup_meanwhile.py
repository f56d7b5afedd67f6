"""Backups while several processes write: each restores into an empty book that is whole and of one instant."""

import json
import secrets
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg
import pytest
from django.db import connection

from service.backup.archive import verify
from tests.faults import busy_writer, writer
from tests.faults.serving import environment, run
from tests.machinery import REPOSITORY, wait_for

WRITERS = 3
BACKUPS = 3
# The tables of a new PostgreSQL database take as long as a backup and its restore.
BACKUPS_ON_POSTGRESQL = 2
KINDS = (*sorted(set(writer.KINDS)), busy_writer.PHOTO)

RESTORE_AND_LOOK = """
import io, json, sys
import django
django.setup()
import time_machine
from django.core.management import call_command
from django.db import connection
from PIL import Image
from tests.personas import NOW
from tests.faults.busy_writer import colour_of
from tests.faults.writer import ROWS_A_FILE

said = io.StringIO()
with time_machine.travel(NOW):
    call_command("restore", sys.argv[1], *sys.argv[2:], stdout=said)
    call_command("verify_record", stdout=said)
    call_command("rebuild", "--check", stdout=said)
connection.check_constraints()
from fleet.models import CheckPhoto, Release, Shots, SignedResult, TemperatureReading, TurnaroundCheck
from fleet.verification import verify_record
from service.models import WorkOrder
photos = CheckPhoto.objects.select_related("check_made")
released = set(WorkOrder.objects.filter(status="released").values_list("number", flat=True))
readings = TemperatureReading.objects.count()
print(json.dumps({
    "said": said.getvalue(),
    "counts": {"shots": Shots.objects.filter(key__startswith="killed-").count(),
               "import": readings // ROWS_A_FILE, "sign-off": len(released), "photo": photos.count()},
    "part of a file": readings % ROWS_A_FILE,
    "half released": sorted(
        released ^ set(SignedResult.objects.exclude(released_at=None).values_list("order_number", flat=True))),
    "without release": sorted(released - set(Release.objects.values_list("order_number", flat=True))),
    "wrong pictures": [one.pk for one in photos if Image.open(one.image.path).getpixel((1, 1))
                       != colour_of(one.check_made.answers["number"])],
    "not covered": verify_record().covered.without,
}))
"""


@dataclass
class Writers:
    """Processes that write, each on a bow of its own, and what they have acknowledged so far."""

    env: dict[str, str]
    folder: Path
    running: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def begin(self) -> None:
        for who in range(WRITERS):
            with self._log(who).open("wb") as log:
                command = [sys.executable, "-m", "tests.faults.busy_writer", str(who)]
                started = subprocess.Popen(
                    command, cwd=REPOSITORY, env=self.env, stdin=subprocess.PIPE, stdout=log, stderr=subprocess.STDOUT
                )
            self.running.append(started)
        wait_for("a photo of each", lambda: all("photo" in self._log(who).read_text() for who in range(WRITERS)))

    def acknowledged(self) -> Counter[str]:
        """How many writes of each kind."""
        said = "".join(self._log(who).read_text() for who in range(WRITERS))
        return Counter(line.split()[1] for line in said.splitlines() if line.startswith("written "))

    def end(self) -> None:
        """Let each finish the write that it is at; all of them must have been at it until now."""
        for who, process in enumerate(self.running):
            assert process.poll() is None, self._log(who).read_text()
            assert process.stdin is not None
            process.stdin.close()
        assert [process.wait(timeout=30) for process in self.running] == [0] * WRITERS

    def _log(self, who: int) -> Path:
        return self.folder / f"writer-{who}.log"


@contextmanager
def writing(env: dict[str, str], folder: Path) -> Iterator[Writers]:
    writers = Writers(env, folder)
    try:
        writers.begin()
        yield writers
    finally:
        for process in writers.running:
            process.kill()


@dataclass(frozen=True)
class Made:
    """A backup, and what was acknowledged before it began and after it ended."""

    path: Path
    before: Counter[str]
    after: Counter[str]


def back_up_meanwhile(env: dict[str, str], folder: Path, backups: int) -> list[Made]:
    """Several backups, one after the other, while all the writers write."""
    made = []
    with writing(env, folder) as writers:
        for number in range(backups):
            to = folder / f"backup-{number}"
            before = writers.acknowledged()
            run(env, "manage.py", "backup", "--to", str(to))
            made.append(Made(next(to.glob("*.zip")), before, writers.acknowledged()))
            time.sleep(0.2)
        writers.end()
    return made


def looked_at(one: Made, env: dict[str, str]) -> dict[str, Any]:
    """What is found in an empty book after the backup is restored into it."""
    return dict(json.loads(run(env, "-c", RESTORE_AND_LOOK, str(one.path)).splitlines()[-1]))


def hold_whole(made: list[Made], empty: list[dict[str, str]]) -> None:
    """Restore each backup and look: whole, of one instant, with what was acknowledged before it and nothing later."""
    last = Counter[str]()
    with ThreadPoolExecutor(2) as pool:
        looks = list(pool.map(looked_at, made, empty))
    for one, found in zip(made, looks, strict=True):
        manifest = verify(one.path)
        assert manifest.lost_photos == []
        assert "The audit trail holds" in found["said"] and "equals a rebuild to 1e-9" in found["said"]
        assert [found[wrong] for wrong in ("half released", "without release", "wrong pictures")] == [[], [], []]
        assert (found["part of a file"], found["not covered"]) == (0, 0)
        counts = Counter(found["counts"])
        assert manifest.tables["fleet.checkphoto"].rows == len(manifest.photos) == counts[busy_writer.PHOTO]
        for kind in KINDS:
            # Each process may have committed one more than it had said by then.
            assert one.before[kind] <= counts[kind] <= one.after[kind] + WRITERS, (kind, counts, one)
            assert counts[kind] >= last[kind]
        last = counts
    assert sum(made[-1].before.values()) > sum(made[0].before.values()), "nobody wrote meanwhile"


@pytest.fixture
def empty_sqlite(db: None, tmp_path: Path) -> Callable[[str], dict[str, str]]:
    """Makes a book with its tables and nothing in them: a copy of this run's own, whose migration took its time."""

    def make(name: str) -> dict[str, str]:
        folder = tmp_path / name
        folder.mkdir()
        own, copied = sqlite3.connect(connection.settings_dict["NAME"]), sqlite3.connect(folder / "book.sqlite3")
        with closing(own), closing(copied):
            own.backup(copied)
            copied.execute("PRAGMA journal_mode=wal")
        return environment(folder, BROKER_URL="memory://")

    return make


def test_on_sqlite(tmp_path: Path, empty_sqlite: Callable[[str], dict[str, str]]) -> None:
    book, *empty = [empty_sqlite(name) for name in ("book", *(f"restored-{n}" for n in range(BACKUPS)))]
    run(book, "-m", "tests.faults.writer", "prepare")
    hold_whole(back_up_meanwhile(book, tmp_path, len(empty)), empty)


@pytest.mark.broker
def test_on_postgresql(tmp_path: Path, postgresql_database: str) -> None:
    def on(name: str, url: str) -> dict[str, str]:
        return environment(tmp_path / name, BROKER_URL="memory://", DATABASE_URL=url)

    book = on("book", postgresql_database)
    run(book, "manage.py", "migrate", "--verbosity", "0")
    with ExitStack() as databases:
        copies = [databases.enter_context(copied(postgresql_database)) for _ in range(BACKUPS_ON_POSTGRESQL)]
        run(book, "-m", "tests.faults.writer", "prepare")
        empty = [on(f"restored-{n}", url) for n, url in enumerate(copies)]
        hold_whole(back_up_meanwhile(book, tmp_path, len(empty)), empty)


@contextmanager
def copied(url: str) -> Iterator[str]:
    """A database with the tables of another one, while nobody is in that."""
    name, template = f"bracebook_{secrets.token_hex(6)}", urlsplit(url).path.removeprefix("/")
    server = urlsplit(url)._replace(path="/postgres").geturl()
    with psycopg.connect(server, autocommit=True) as server_itself:
        server_itself.execute(f"CREATE DATABASE {name} TEMPLATE {template}")
        yield urlsplit(url)._replace(path=f"/{name}").geturl()
        server_itself.execute(f"DROP DATABASE {name} WITH (FORCE)")
