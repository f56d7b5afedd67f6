"""Sealing anew what a name is taken out of: the seal that stands is the last one written for a record."""

from dataclasses import dataclass

from django.db.models import QuerySet

from fleet.models import AuditEntry, Person
from fleet.record.kernel import audit
from fleet.record.names_in_text import Name, blank_detail, numbers_with
from fleet.signed_contents import CONTENTS, KINDS, Seal, contents_of, fits, new_seal


@dataclass(frozen=True)
class Opened:
    """A signed record in which a name stands, its seal before the name is taken out, and whether that one fits."""

    kind: str
    number: int
    seal: Seal
    fits: bool


def sealed_with(name: Name) -> list[Opened]:
    """The sealed records that have a name in their contents."""
    found: list[Opened] = []
    for kind, (model, _) in KINDS.items():
        for number in numbers_with(model, name):
            seal = last_seal(kind, number)
            if seal is not None:
                found.append(Opened(kind, number, seal, fits(seal, contents_of(kind, [number])[number])))
    return found


def last_seal(kind: str, number: int) -> Seal | None:
    """The seal that stands for a record; None if it was signed before contents were sealed."""
    rows = _seals_of(kind, number)
    return None if (row := rows.last()) is None else row.detail[CONTENTS]


def seal_anew(by: Person, opened: list[Opened]) -> list[int]:
    """Write new seals, blank the rows of the old ones, and return the numbers of those rows.

    What did not fit its seal before keeps the old one: an erasure must not bless what somebody changed.
    """
    blank: list[int] = []
    for one in opened:
        for row in _seals_of(one.kind, one.number):
            blank_detail(row)
            blank.append(row.pk)
        model, _ = KINDS[one.kind]
        seal = new_seal(contents_of(one.kind, [one.number])[one.number]) if one.fits else one.seal
        audit(by, "seal_again", model._default_manager.get(pk=one.number), contents=seal)
    return blank


def _seals_of(kind: str, number: int) -> QuerySet[AuditEntry]:
    rows = AuditEntry.objects.filter(subject_kind=kind, subject_id=number, detail__has_key=CONTENTS)
    return rows.order_by("pk")
