"""An empty book with all its tables, made once for a run and copied: the migrations take longer than most tests.

Tests of the first start and of upgrading run the migrations themselves.
"""

import fcntl
import os
import shutil
import subprocess
import sys
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parent.parent
BOOK = "book.sqlite3"

folder: Path | None = None
"""Where the processes of one run share it; tests/conftest.py sets it."""


def put_empty_book(path: Path) -> None:
    """Put an empty, migrated SQLite book at `path`, whose folder is there; nobody else may read it."""
    assert folder is not None, "tests/conftest.py says where books are shared"
    shutil.copyfile(_template(folder), path)
    path.chmod(0o600)


def _template(shared: Path) -> Path:
    made = shared / BOOK
    with (shared / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not made.exists():
            with_what = {name: value for name, value in os.environ.items() if not name.startswith("BRACEBOOK_")}
            begun = shared / "begun"
            begun.mkdir(mode=0o700)
            subprocess.run(
                [sys.executable, "manage.py", "migrate", "--verbosity", "0"],
                cwd=REPOSITORY,
                env={**with_what, "DJANGO_SETTINGS_MODULE": "service.settings", "BRACEBOOK_DATA_DIR": str(begun)},
                check=True,
            )
            # Closed in order: all of it is in the one file, nothing is left in a log beside it.
            assert not (begun / f"{BOOK}-wal").exists()
            (begun / BOOK).rename(made)
    return made
