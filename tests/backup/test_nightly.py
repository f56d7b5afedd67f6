"""Which nightly backups are kept, and that a bad one never costs a good one."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from service.backup import nightly
from service.backup.archive import BackupRefused
from tests import personas

START = datetime(2026, 1, 1, 2, 0, tzinfo=UTC)


def every_night(count: int) -> list[tuple[datetime, Path]]:
    nights = [START + timedelta(days=n) for n in range(count)]
    return [(at, Path(f"nightly-{at:%Y%m%dT%H%M%SZ}.zip")) for at in nights]


def after(count: int) -> list[datetime]:
    """What is there after so many nights, each followed by its rotation; newest first."""
    there: list[tuple[datetime, Path]] = []
    for night in every_night(count):
        there.append(night)
        dropped = set(nightly.superseded(there))
        there = [one for one in there if one[1] not in dropped]
    return sorted((at for at, _path in there), reverse=True)


@pytest.mark.parametrize("count", [1, 7])
def test_the_first_week_is_kept_whole(count: int) -> None:
    assert len(after(count)) == count


def test_a_year_later_days_weeks_and_months_are_there() -> None:
    kept = after(400)
    latest = START + timedelta(days=399)
    assert kept[:7] == [latest - timedelta(days=n) for n in range(7)]
    assert len({at.isocalendar()[:2] for at in kept}) >= nightly.KEPT_WEEKS
    assert [(at.year, at.month) for at in kept if at.day == 31 or (at.month, at.day) in {(11, 30), (2, 28), (9, 30)}]
    assert len({(at.year, at.month) for at in kept}) == nightly.KEPT_MONTHS
    assert len(kept) <= nightly.KEPT_DAYS + nightly.KEPT_WEEKS + nightly.KEPT_MONTHS


def test_files_of_another_name_are_left_alone(folders: Path) -> None:
    (folders / "backups").mkdir()
    for name in ("bracebook-20200101T000000Z.zip", "nightly-old.zip", "notes.txt"):
        (folders / "backups" / name).touch()
    assert nightly.nightly_backups() == []
    assert nightly.latest_backup_at() is None


@pytest.mark.both_engines
def test_tonights_is_made_read_back_and_dated(book: personas.Shop, folders: Path) -> None:
    path = nightly.nightly_backup(personas.NOW)
    assert path.exists()
    assert nightly.latest_backup_at() == personas.NOW


def test_one_that_cannot_be_read_back_costs_no_older_one(
    book: personas.Shop, folders: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for days in range(1, 30):
        nightly.nightly_backup(personas.before(30 - days))
    before = nightly.nightly_backups()

    def torn(_path: Path) -> None:
        raise BackupRefused("damaged")

    monkeypatch.setattr(nightly, "verify", torn)
    with pytest.raises(BackupRefused):
        nightly.nightly_backup(personas.NOW)
    assert set(before) < set(nightly.nightly_backups())
