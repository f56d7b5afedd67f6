"""The nightly backup and which of them are kept."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings

from service.backup import erasures
from service.backup.archive import verify
from service.backup.make import make_backup

PREFIX = "nightly"
# Common practice, no source: a week of days, a month of weeks, half a year of months.
KEPT_DAYS, KEPT_WEEKS, KEPT_MONTHS = 7, 4, 6
_STAMP = "%Y%m%dT%H%M%SZ"


def nightly_backup(now: datetime) -> Path:
    """Make tonight's backup in BACKUP_DIR, read it back whole, and only then drop those that are no longer kept."""
    path, _manifest = make_backup(Path(settings.BACKUP_DIR), now, PREFIX)
    verify(path)
    erasures.write(Path(settings.BACKUP_DIR))
    for old in superseded(nightly_backups()):
        old.unlink(missing_ok=True)
    return path


def nightly_backups() -> list[tuple[datetime, Path]]:
    """The nightly backups that are there, newest first; files of another name are not looked at."""
    found = []
    for path in Path(settings.BACKUP_DIR).glob(f"{PREFIX}-*.zip"):
        try:
            made_at = datetime.strptime(path.stem.removeprefix(f"{PREFIX}-"), _STAMP).replace(tzinfo=UTC)
        except ValueError:
            continue
        found.append((made_at, path))
    return sorted(found, reverse=True)


def latest_backup_at() -> datetime | None:
    """When the newest nightly backup was made; None if there is none."""
    backups = nightly_backups()
    return backups[0][0] if backups else None


def superseded(backups: list[tuple[datetime, Path]]) -> list[Path]:
    """Those to drop: all but the newest of each of the last days, weeks and months that have one."""
    kept: set[Path] = set()
    periods: list[tuple[int, Callable[[datetime], tuple[int, ...]]]] = [
        (KEPT_DAYS, lambda at: (at.year, at.month, at.day)),
        (KEPT_WEEKS, lambda at: at.isocalendar()[:2]),
        (KEPT_MONTHS, lambda at: (at.year, at.month)),
    ]
    for count, period in periods:
        newest: dict[tuple[int, ...], Path] = {}
        for made_at, path in sorted(backups, reverse=True):
            newest.setdefault(period(made_at), path)
        kept |= set(list(newest.values())[:count])
    return [path for _made_at, path in backups if path not in kept]
