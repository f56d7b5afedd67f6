"""The disk fills up while the book is written: what was acknowledged is there, what was not is not, and it goes on.

As root the book lies on a small file system in memory; elsewhere the kernel's limit on the size of a file stands in
for it (setrlimit(2), RLIMIT_FSIZE), which ends a write in the same place with another error number.
"""

import contextlib
import os
import resource
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.faults.serving import make_tables
from tests.faults.test_killed import FIND, environment, hold_to, run
from tests.machinery import REPOSITORY

WRITES = 200
ROOM_BYTES = 600_000


@dataclass
class SmallDisk:
    """Where the book lies, and whether a file's size is what is limited."""

    data: Path
    mounted: bool

    def write(self) -> subprocess.CompletedProcess[str]:
        """Write until the disk is full."""
        limit = sum(file.stat().st_size for file in self.data.glob("*.sqlite3")) // 2 + ROOM_BYTES

        def limited() -> None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

        return subprocess.run(
            [sys.executable, "-m", "tests.faults.writer", "0", str(WRITES)],
            cwd=REPOSITORY,
            env=environment(self.data),
            capture_output=True,
            text=True,
            check=False,
            preexec_fn=None if self.mounted else limited,
        )

    def make_room(self) -> None:
        if self.mounted:
            subprocess.run(["mount", "-o", "remount,size=64m", str(self.data)], check=True)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with a shop in it, closed."""
    data = tmp_path_factory.mktemp("prepared") / "book"
    make_tables(environment(data))
    run(data, "-m", "tests.faults.writer", "prepare")
    return data


@pytest.fixture
def small_disk(prepared: Path, tmp_path: Path) -> Iterator[SmallDisk]:
    """The book on a disk with little room left."""
    data = tmp_path / "small"
    data.mkdir()
    size = sum(file.stat().st_size for file in prepared.rglob("*") if file.is_file()) + ROOM_BYTES
    mounted = os.geteuid() == 0 and _mounted(data, size)
    try:
        shutil.copytree(prepared, data, dirs_exist_ok=True)
        yield SmallDisk(data, mounted)
    finally:
        if mounted:
            subprocess.run(["umount", "--lazy", str(data)], check=True)


def _mounted(at: Path, size: int) -> bool:
    """A container may not be let mount anything even as root."""
    with contextlib.suppress(OSError):
        done = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(at)], capture_output=True)
        return done.returncode == 0
    return False


def test_a_full_disk_loses_nothing_that_was_acknowledged(small_disk: SmallDisk) -> None:
    import json

    ended = small_disk.write()
    done = [line for line in ended.stdout.splitlines() if line.startswith("written ")]
    assert ended.returncode != 0 and 0 < len(done) < WRITES, ended.stderr[-2000:]
    assert "disk" in ended.stderr.lower() or "No space left" in ended.stderr, ended.stderr[-2000:]

    small_disk.make_room()
    found = json.loads(run(small_disk.data, "-c", FIND))
    assert (found["sound"], found["dangling"]) == ([["ok"]], [])
    hold_to(found, ended.stdout.splitlines())

    further = run(small_disk.data, "-m", "tests.faults.writer", str(len(done)), str(len(done) + 8))
    assert f"written {len(done) + 7}" in further
