"""Names erased after a backup was made are erased again when it is restored: guests' and people's."""

import json
import re
import stat
import zipfile
from datetime import timedelta
from pathlib import Path

import pytest

from fleet import record
from fleet.models import Booking, Erasure, GuestName, Hold, Person
from fleet.verification import verify_record
from service.backup import erasures
from service.backup.make import make_backup
from service.backup.restore import restore
from tests import personas
from tests.fleet.test_erasing import whole_book
from tests.personas import NOW

pytestmark = pytest.mark.both_engines


@pytest.fixture
def backup(book: personas.Shop, folders: Path) -> Path:
    """A backup that has the counter's name in a text and a guest's name; then both are erased."""
    bow = personas.fitted_bow(book, tag="L-2")
    record.hold(by=book.manager, bow=bow, reason="person", detail="Larkspur Counter saw a fray", since=NOW)
    path, _manifest = make_backup(folders / "backups", NOW)
    record.erase_person(by=book.owner, person=book.counter, now=NOW, forced_because="asked for")
    record.erase_guest_name(by=book.manager, booking=Booking.objects.get(), now=NOW)
    return path


def assert_erased(counter: Person) -> None:
    person = Person.objects.get(pk=counter.pk)
    assert str(person) == f"person {counter.pk}" and not person.is_active
    assert Hold.objects.get(reason="person").detail == f"person {counter.pk} saw a fray"
    assert not GuestName.objects.exists()
    assert "larkspur counter" not in whole_book().lower() and "larkspur-counter" not in whole_book().lower()
    assert verify_record().wrong == ""


def test_by_the_book_that_is_replaced(book: personas.Shop, backup: Path, folders: Path) -> None:
    (folders / "backups" / erasures.FILE).unlink()
    restore(backup, NOW, replace=True)
    assert_erased(book.counter)


def test_by_the_list_beside_the_backups_when_the_book_is_lost(book: personas.Shop, backup: Path) -> None:
    Erasure.objects.all().delete()
    restore(backup, NOW + timedelta(days=1), replace=True)
    assert_erased(book.counter)


def test_a_new_backup_has_the_name_nowhere(book: personas.Shop, backup: Path, folders: Path) -> None:
    path, _manifest = make_backup(folders / "backups", NOW + timedelta(minutes=1))
    with zipfile.ZipFile(backup) as old, zipfile.ZipFile(path) as new:
        assert any(b"larkspur-counter" in old.read(name) for name in old.namelist())
        for name in new.namelist():
            content = new.read(name).lower()
            assert b"larkspur-counter" not in content and b"larkspur counter" not in content, name


def test_the_list_has_numbers_and_days_alone(book: personas.Shop, backup: Path, folders: Path) -> None:
    path = folders / "backups" / erasures.FILE
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    assert {(line["kind"], line["number"]) for line in lines} == {
        ("person", book.counter.pk),
        ("guest", Booking.objects.get().pk),
    }
    told = path.read_text().lower()
    # The guest's as a word: the book's own digest is any letters from a to f.
    assert "counter" not in told and "ada" not in re.findall(r"\w+", told)


def test_a_list_of_another_book_erases_nobody_here(book: personas.Shop, folders: Path) -> None:
    path, _manifest = make_backup(folders / "backups", NOW)
    line = erasures.Line("f" * 64, "person", book.counter.pk, book.counter.date_joined.isoformat(), "2026-07-01")
    other = erasures.Line(erasures.this_book(), "person", book.counter.pk, NOW.isoformat(), "2026-07-01")
    (folders / "backups" / erasures.FILE).write_text(
        "".join(json.dumps(one.__dict__) + "\n" for one in (line, other)) + "not a line\n"
    )
    restore(path, NOW, replace=True)
    assert str(Person.objects.get(pk=book.counter.pk)) == "Larkspur Counter"


def test_a_list_that_cannot_be_written_is_written_with_the_next_backup(
    book: personas.Shop, folders: Path, settings: object
) -> None:
    blocked = folders / "backups"
    blocked.write_text("no folder")
    record.erase_person(by=book.owner, person=book.counter, now=NOW, forced_because="asked for")
    blocked.unlink()
    erasures.write(blocked)
    assert f'"number": {book.counter.pk}' in (blocked / erasures.FILE).read_text()
