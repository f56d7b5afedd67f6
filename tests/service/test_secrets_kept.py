"""What a command makes is readable by its own user alone, even in a folder that others may read."""

import os
import stat
import subprocess
import sys
from pathlib import Path

from tests.conftest import REPOSITORY

MAKES = """
import sqlite3
from django.conf import settings
from django.db import connection
connection.ensure_connection()
(settings.DATA_DIR / "made").touch()
"""


def test_every_file_is_the_users_own(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    environment = {key: value for key, value in os.environ.items() if not key.startswith("BRACEBOOK_")}
    subprocess.run(
        [sys.executable, "manage.py", "shell", "--no-imports", "-c", MAKES],
        cwd=REPOSITORY,
        env={**environment, "BRACEBOOK_DATA_DIR": str(tmp_path)},
        umask=0o022,
        check=True,
        timeout=120,
    )
    made = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert {"made", "secret-key", "book.sqlite3"} <= {path.name for path in made}
    for path in made:
        assert stat.S_IMODE(path.stat().st_mode) & 0o077 == 0, path
