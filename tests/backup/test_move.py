"""From SQLite to PostgreSQL, and back, by a backup and a restore: every row and photo, as real commands."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from service.backup.archive import Manifest, verify
from service.backup.make import make_backup
from tests import personas
from tests.machinery import REPOSITORY

pytestmark = pytest.mark.broker


def manage(data: Path, database: str, *words: str) -> str:
    """Run one command on a data directory and a database, as a shell would."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("BRACEBOOK_")}
    env = {**clean, "DJANGO_SETTINGS_MODULE": "service.settings", "BRACEBOOK_DATA_DIR": str(data)}
    env |= {"BRACEBOOK_DATABASE_URL": database} if database else {}
    done = subprocess.run(
        [sys.executable, "manage.py", *words], cwd=REPOSITORY, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def contents(folder: Path) -> tuple[dict[str, str], dict[str, str]]:
    """The checksums of every table and photo in the one backup of a folder."""
    (path,) = folder.glob("*.zip")
    found: Manifest = verify(path)
    kinds = (found.tables, found.photos)
    return tuple({name: member.sha256 for name, member in kind.items()} for kind in kinds)  # type: ignore[return-value]


def test_there_and_back(book: personas.Shop, folders: Path, postgresql_database: str) -> None:
    first, second, third = folders / "first", folders / "second", folders / "third"
    path, _manifest = make_backup(first, personas.NOW)
    manage(folders / "large", postgresql_database, "restore", str(path))
    manage(folders / "large", postgresql_database, "backup", "--to", str(second))
    (moved,) = second.glob("*.zip")
    manage(folders / "small", "", "restore", str(moved))
    assert "equals a rebuild" in manage(folders / "small", "", "rebuild", "--check")
    manage(folders / "small", "", "backup", "--to", str(third))
    tables, photos = contents(first)
    assert tables["fleet.shots"] and len(photos) == 1
    erased = {"fleet.guestname", "fleet.auditentry", "fleet.audithead"}
    for folder in (second, third):
        there, pictures = contents(folder)
        assert {name for name in tables if tables[name] != there[name]} <= erased
        assert pictures == photos
