"""The list of erasures beside the backups: by it, an older backup that is restored loses the names again.

A line says of which book (the digest of its first audit row), whether a person or a guest, the number, since when the
person was in the book, and on which day the name was erased; never a name. The book keeps the same list as a table, so
the file can be written anew at any time; it is for the day on which the book itself is lost.
"""

import json
import logging
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.dispatch import receiver

from fleet import record
from fleet.models import AuditEntry, Booking, ErasedKind, Erasure, Person
from fleet.record.sites import night_watch
from fleet.refusal import Refused
from fleet.signals import names_erased

logger = logging.getLogger(__name__)
FILE = "erasures.jsonl"
MODE = 0o600


@dataclass(frozen=True, order=True)
class Line:
    """One erasure; `since` and `on` as ISO text."""

    book: str
    kind: str
    number: int
    since: str
    on: str


def this_book() -> str:
    """What tells this book from every other: the digest of its first audit row; "" for an empty one."""
    first = AuditEntry.objects.order_by("pk").values_list("digest", flat=True).first()
    return first or ""


def erased_here() -> set[Line]:
    """The erasures that this book knows of."""
    book = this_book()
    return {
        Line(book, one.kind, one.number, one.since.isoformat() if one.since else "", one.on.isoformat())
        for one in Erasure.objects.all()
    }


def read(path: Path) -> set[Line]:
    """The lines of a list; none where there is no such file. A line that cannot be read is logged and left out."""
    found: set[Line] = set()
    if not path.is_file():
        return found
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        try:
            found.add(Line(**json.loads(line)))
        except (ValueError, TypeError):
            logger.exception("line %d of %s cannot be read", number, path)
    return found


def write(folder: Path) -> None:
    """Write what this book knows of into the folder's list; what stands there of before stays. OSError if it fails."""
    path = folder / FILE
    known = read(path)
    lines = known | erased_here()
    if lines == known:
        return
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    partial = path.with_suffix(".partial")
    with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, MODE), "w", encoding="utf-8") as file:
        file.writelines(json.dumps(asdict(line)) + "\n" for line in sorted(lines))
        file.flush()
        os.fsync(file.fileno())
    partial.replace(path)


@receiver(names_erased)
def keep_list(**_: Any) -> None:
    """After the commit; a list that cannot be written now is written with tonight's backup."""
    transaction.on_commit(_try_to_write)


def _try_to_write() -> None:
    try:
        write(Path(settings.BACKUP_DIR))
    except OSError:
        logger.exception("the list of erasures beside the backups cannot be written")


def erase_again(lines: Iterable[Line], now: datetime) -> int:
    """Erase in a restored book the names that these lines say were erased; returns how many came back with it."""
    book, erased = this_book(), 0
    for line in sorted(lines):
        if line.book == book:
            erased += _erase_guest(line, now) if line.kind == ErasedKind.GUEST else _erase_person(line, now)
    return erased


def _erase_guest(line: Line, now: datetime) -> int:
    booking = Booking.objects.filter(pk=line.number, guest__isnull=False).first()
    if booking is None:
        return 0
    record.erase_guest_name(by=night_watch(), booking=booking, now=now)
    return 1


def _erase_person(line: Line, now: datetime) -> int:
    person = Person.objects.filter(pk=line.number).first()
    if person is None or person.date_joined.isoformat() != line.since:
        return 0
    try:
        why = f"erased on {line.on}, and restored from an older backup"
        record.erase_person(by=night_watch(), person=person, now=now, forced_because=why)
    except Refused as refusal:
        logger.info("person %d is not erased again: %s", line.number, refusal)
        return 0
    return 1
