"""A setting that is empty is not set: no key, figure or backup lands where the command happened to be run."""

import os
import subprocess
import sys
from pathlib import Path

from tests.machinery import REPOSITORY

SAY = """
from service import settings
print(settings.DATA_DIR, settings.BACKUP_DIR, settings.METRICS_DIR, settings.DATABASES["default"]["ENGINE"],
      settings.PUBLIC_URL, settings.CELERY_BROKER_URL.split(":")[0], sep="\\n")
"""
NAMES = ("BACKUP_DIR", "BIND", "BROKER_URL", "DATABASE_URL", "DATA_DIR", "METRICS_DIR", "PUBLIC_URL", "SECRET_KEY")


def test_empty_variables_mean_the_defaults(tmp_path: Path) -> None:
    """Run in a checkout of links: its default data directory is this test's own."""
    checkout, elsewhere = tmp_path / "checkout", tmp_path / "elsewhere"
    elsewhere.mkdir()
    (checkout / "service").mkdir(parents=True)
    (checkout / "service" / "settings.py").write_bytes((REPOSITORY / "service" / "settings.py").read_bytes())
    clean = {name: value for name, value in os.environ.items() if not name.startswith("BRACEBOOK_")}
    env = {**clean, **{f"BRACEBOOK_{name}": " " if name == "BIND" else "" for name in NAMES}}
    done = subprocess.run(
        [sys.executable, "-c", SAY],
        cwd=elsewhere,
        env={**env, "PYTHONPATH": str(checkout)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    data, backups, metrics, engine, url, broker = done.stdout.splitlines()
    assert Path(data) == checkout / "data"
    assert (Path(backups), Path(metrics)) == (checkout / "data" / "backups", checkout / "data" / "metrics")
    assert (engine, url, broker) == ("django.db.backends.sqlite3", "http://127.0.0.1:8000", "redis+socket")
    assert (checkout / "data" / "secret-key").stat().st_mode & 0o077 == 0
    assert list(elsewhere.iterdir()) == []
