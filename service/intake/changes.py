"""What a row does to the book: new, changed (before -> after) or unchanged."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from service.intake.rows import Row

SAME_SHARE = 1e-9  # a quantity typed in another unit is the same one


class Status(StrEnum):
    """What taking a row in does."""

    NEW = "new"
    CHANGED = "changed"
    UNCHANGED = "unchanged"


@dataclass(frozen=True, slots=True)
class Difference:
    """A field before and after, spelled in the unit of its column; before is empty for what is new."""

    header: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Change:
    """What one row does: `subject` is what people call its record (a tag, a code)."""

    line: int
    subject: str
    status: Status
    differences: tuple[Difference, ...] = ()


def compare(row: Row, subject: str, before: Mapping[str, Any] | None, aside: tuple[str, ...] = ()) -> Change:
    """Hold a row's values against what the book has (by the same field names; None = nothing yet).

    Fields `aside` only help to read the row (whose site's time zone is meant) and are not compared.
    A value that is the same but for rounding is put back to the book's own, so that no verb sees a change in it.
    """
    differences = []
    for bound in row.layout.bound:
        field = bound.column.field
        if field not in row.values or field in aside:
            continue
        known = None if before is None else before.get(field)
        if before is not None and same(known, row.values[field]):
            row.values[field] = known
            continue
        shown = ("" if before is None or known is None else bound.column.show(known, bound.unit)) or ""
        differences.append(Difference(bound.header, shown, bound.column.show(row.values[field], bound.unit)))
    if before is None:
        return Change(row.line, subject, Status.NEW, tuple(differences))
    status = Status.CHANGED if differences else Status.UNCHANGED
    return Change(row.line, subject, status, tuple(differences))


def same(one: Any, other: Any) -> bool:
    """Equal, or the same number but for the rounding of a change of unit."""
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=SAME_SHARE, abs_tol=SAME_SHARE)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return list(one) == list(other)
    return bool(one == other)
