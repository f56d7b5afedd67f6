"""Sealing anew what a name is taken out of: the seal that stands is the last one written for a record."""

from dataclasses import dataclass

from fleet.models import Person
from fleet.record.kernel import audit
from fleet.record.names_in_text import Name, blank_detail, numbers_with
from fleet.signed_contents import KINDS, Seal, contents_of, fits, last_seal, new_seal, seals_of


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


def seal_anew(by: Person, opened: list[Opened]) -> list[int]:
    """Write new seals, blank the rows of the old ones, and return the numbers of those rows.

    What did not fit its seal before keeps the old one: an erasure must not bless what somebody changed.
    """
    blank: list[int] = []
    for one in opened:
        for row in seals_of(one.kind, one.number):
            blank_detail(row)
            blank.append(row.pk)
        model, _ = KINDS[one.kind]
        seal = new_seal(contents_of(one.kind, [one.number])[one.number]) if one.fits else one.seal
        audit(by, "seal_again", model._default_manager.get(pk=one.number), contents=seal)
    return blank
