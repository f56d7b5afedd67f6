"""Holding what was signed to its seals: are the readings, verdicts and words those under which the name was put?"""

from collections.abc import Iterator
from dataclasses import dataclass

from fleet.chain import Link
from fleet.signed_contents import CONTENTS, KINDS, Contents, Seal, contents_of, fits, last_seal

AT_ONCE = 500
WORDS = {"signedresult": "signed result", "release": "release", "turnaroundcheck": "check between guests"}


@dataclass(frozen=True)
class Covered:
    """Signed records that fit their seals, and those that have none: from before contents were sealed, or brought."""

    held: int = 0
    without: int = 0


NOTHING_SIGNED = Covered()


@dataclass(frozen=True)
class _Sealed:
    """A seal as it stands in an audit row."""

    row: int
    kind: str
    number: int
    seal: Seal


class SealedContents:
    """Looks at each sealed record as the walk over the audit trail passes its seal.

    The last seal of a record decides: one that was signed, then released, fits the second of its two. The records to
    be accounted for are those of before the walk, for the book may grow meanwhile.
    """

    def __init__(self) -> None:
        self._there = {
            kind: set(model._default_manager.values_list("pk", flat=True)) for kind, (model, _) in KINDS.items()
        }
        self._sealed: dict[str, set[int]] = {kind: set() for kind in KINDS}
        self._unfit: dict[tuple[str, int], int] = {}
        self._waiting: list[_Sealed] = []

    def noted(self, links: Iterator[Link]) -> Iterator[Link]:
        """The links as they come."""
        for link in links:
            yield link
            # Asked for the next one: this one held.
            detail, kind = link.values["detail"], link.values["subject_kind"]
            if kind in KINDS and isinstance(detail, dict) and CONTENTS in detail:
                self._waiting.append(_Sealed(link.pk, kind, link.values["subject_id"], detail[CONTENTS]))
            if len(self._waiting) >= AT_ONCE:
                self._look()

    def wrong(self) -> str:
        """The first of the records that do not fit, in words; "" if all do."""
        self._look()
        for (kind, number), row in sorted(self._unfit.items(), key=lambda one: one[1]):
            if not _fits_now(kind, number):
                return _words(kind, number, row)
        return ""

    def covered(self) -> Covered:
        """How many hold and how many have no seal."""
        held = sum(len(numbers) for numbers in self._sealed.values()) - len(self._unfit)
        return Covered(held, sum(len(self._there[kind] - self._sealed[kind]) for kind in KINDS))

    def _look(self) -> None:
        """Hold those that wait to their seals, in the order of the trail."""
        waiting, self._waiting = self._waiting, []
        contents: dict[str, dict[int, Contents]] = {
            kind: contents_of(kind, {one.number for one in waiting if one.kind == kind}) for kind in KINDS
        }
        for one in waiting:
            self._sealed[one.kind].add(one.number)
            found = contents[one.kind].get(one.number)
            if found is not None and fits(one.seal, found):
                self._unfit.pop((one.kind, one.number), None)
            else:
                self._unfit[one.kind, one.number] = one.row


def _fits_now(kind: str, number: int) -> bool:
    """Whether a record fits the last seal that it has by now: it may have been released during the walk."""
    seal, found = last_seal(kind, number), contents_of(kind, [number]).get(number)
    return seal is not None and found is not None and fits(seal, found)


def _words(kind: str, number: int, row: int) -> str:
    found = contents_of(kind, [number]).get(number)
    if found is None:
        return f"{WORDS[kind]} {number}, signed in audit row {row}, is not in the book any more"
    order = found.get("order_number")
    of_order = f" of order {order}" if order else ""
    return f"the contents of {WORDS[kind]} {number}{of_order} are not those that were signed in audit row {row}"
