"""What a signature stands under, in one form, and its seal: a salted digest that the audit row of the signature keeps.

The chain (`fleet.chain`) holds who signed what and when; the readings, the verdict and the words that were signed lie
in tables of their own, and the seal binds them to the chain's row. People and other rows stand in the contents by
number, so that erasing a name leaves the seal whole. Where a name was typed into the contents themselves, the erasure
takes it out, and the contents are sealed anew by an audit row of their own (`fleet.record.sealing_contents`); the old
seal goes, salt and all, so that nobody can try names against its digest.
"""

import hashlib
import hmac
import secrets
from collections import defaultdict
from collections.abc import Callable, Iterable
from typing import Any

from django.db import models

from fleet.chain import canonical
from fleet.models import AuditEntry, ReferenceMeasurement, Release, ResultMeasurement, SignedResult, TurnaroundCheck
from fleet.models.audit import CONTENTS as CONTENTS
from service.said import to_keep_deep

SALT_BYTES = 16

Seal = dict[str, str]
Contents = dict[str, Any]


def new_seal(contents: Contents) -> Seal:
    """A seal over contents, with a salt of its own (both hex)."""
    salt = secrets.token_hex(SALT_BYTES)
    return {"salt": salt, "digest": _digest(salt, contents)}


def fits(seal: Seal, contents: Contents) -> bool:
    """Whether the contents are those that were sealed."""
    return hmac.compare_digest(seal["digest"], _digest(seal["salt"], contents))


def contents_of(kind: str, numbers: Iterable[int]) -> dict[int, Contents]:
    """The contents of records of a kind by their numbers; one that is not in the book has none."""
    return KINDS[kind][1](list(numbers))


def seal_of(record: models.Model) -> Seal:
    """A new seal over what the book holds of a record, read anew: a value may be kept otherwise than it was given."""
    kind, number = str(record._meta.model_name), int(record.pk)
    return new_seal(contents_of(kind, [number])[number])


def seals_of(kind: str, number: int) -> "models.QuerySet[AuditEntry]":
    """The audit rows that keep a seal of a record, the oldest first; the last one's is the seal that stands."""
    rows = AuditEntry.objects.filter(subject_kind=kind, subject_id=number, detail__has_key=CONTENTS)
    return rows.order_by("pk")


def last_seal(kind: str, number: int) -> Seal | None:
    """The seal that stands for a record; None if it was signed before contents were sealed."""
    row = seals_of(kind, number).last()
    return None if row is None else row.detail[CONTENTS]


def _digest(salt: str, contents: Contents) -> str:
    return hmac.digest(bytes.fromhex(salt), canonical(contents).encode(), hashlib.sha256).hex()


def _results(numbers: list[int]) -> dict[int, Contents]:
    """Signed results: what was ordered, done, read (before and after), by whom, against which references."""
    names = (
        *("order_number", "bow_id", "reference_set_id", "work", "cords_changed", "steps_done", "note", "signed_at"),
        *("performed_by_id", "released_by_id", "released_at"),
    )
    found = {row["id"]: row for row in SignedResult.objects.filter(pk__in=numbers).values("id", *names)}
    read = _grouped(
        ResultMeasurement.objects.filter(result__in=numbers).order_by("kind", "position"),
        *("result_id", "kind", "position", "as_found", "as_left", "tool_id", "tool_overdue"),
    )
    sets = {row["reference_set_id"] for row in found.values()}
    wanted = _grouped(
        ReferenceMeasurement.objects.filter(reference_set__in=sets).order_by("kind", "position"),
        *("reference_set_id", "kind", "position", "value", "tolerance", "tool_id"),
    )
    return {
        number: {**row, "readings": read[number], "references": wanted[row["reference_set_id"]]}
        for number, row in found.items()
    }


def _grouped(rows: "models.QuerySet[Any]", by: str, *names: str) -> dict[int, list[list[Any]]]:
    groups: dict[int, list[list[Any]]] = defaultdict(list)
    for number, *values in rows.values_list(by, *names):
        groups[number].append(values)
    return groups


def _releases(numbers: list[int]) -> dict[int, Contents]:
    """Releases: that a bow may go out again, and which holds that closed."""
    names = ("bow_id", "at", "by_id", "order_number", "note")
    closed = defaultdict(list)
    of_these = Release.objects.filter(pk__in=numbers)
    for number, hold in of_these.exclude(holds=None).order_by("holds").values_list("pk", "holds"):
        closed[number].append(hold)
    return {row["id"]: {**row, "holds": closed[row["id"]]} for row in of_these.values("id", *names)}


def _checks(numbers: list[int]) -> dict[int, Contents]:
    """Checks between guests: answers and readings as given, the verdict, and why."""
    names = ("bow_id", "at", "by_id", "answers", "measurements", "verdict", "because", "key")
    rows = TurnaroundCheck.objects.filter(pk__in=numbers).values("id", *names)
    return {row["id"]: {**row, "because": to_keep_deep(row["because"])} for row in rows}


# Kind of record (as audit rows name it) -> its table and how its contents are read.
KINDS: dict[str, tuple[type[models.Model], Callable[[list[int]], dict[int, Contents]]]] = {
    "signedresult": (SignedResult, _results),
    "release": (Release, _releases),
    "turnaroundcheck": (TurnaroundCheck, _checks),
}
