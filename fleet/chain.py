"""The chain over the audit trail: each row's digest is taken over the one before it, so no row changes unseen.

Each field is digested with a salt of its own, derived from the row's salt: one field can be shown to somebody (its
value and its salt) while the others cannot be guessed from their digests. People stand in the chain by number alone;
their names lie in `fleet_person` and guests' in `fleet_guestname`, so a name can be erased and the chain stays whole.
A name that somebody typed into a text goes with the detail that it stands in: `blanked` leaves the detail's digest in
its place, and the chain stays whole then too. SHA-256 is FIPS 180-4, HMAC is RFC 2104.
"""

import hashlib
import hmac
import json
import re
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

# What the first row of a book follows.
BEGINNING = "0" * 64
SALT_BYTES = 16
FIELDS = ("at", "person_id", "verb", "subject_kind", "subject_id", "bow_id", "detail")
# Whole numbers up to here are the same as integer and as float (IEEE 754 double: 53 bits).
EXACT_BELOW = 2**53
BLANKED = "erased"
_DIGEST = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Link:
    """One row as the chain sees it: its number, the values of FIELDS, its salt and its digest (both hex)."""

    pk: int
    values: dict[str, Any]
    salt: str
    digest: str


@dataclass(frozen=True)
class Walk:
    """What walking a chain found: rows that hold, the last digest, and the number of the first row that does not."""

    rows: int
    digest: str
    broken_at: int | None = None


def new_salt() -> str:
    """A fresh salt, in hex."""
    return secrets.token_hex(SALT_BYTES)


def digest_after(previous: str, salt: str, values: dict[str, Any]) -> str:
    """The digest (hex) of a row with these values of FIELDS that follows the row with the digest `previous`."""
    chained = hashlib.sha256(bytes.fromhex(previous))
    for name in FIELDS:
        chained.update(field_digest(salt, name, values[name]))
    return chained.hexdigest()


def field_digest(salt: str, name: str, value: Any) -> bytes:
    """The salted digest of one field; a blanked detail says its own."""
    if name == "detail" and is_blanked(value):
        return bytes.fromhex(value[BLANKED])
    own_salt = hmac.digest(bytes.fromhex(salt), name.encode(), hashlib.sha256)
    return hmac.digest(own_salt, canonical(value).encode(), hashlib.sha256)


def blanked(salt: str, detail: dict[str, Any]) -> dict[str, str]:
    """What stands in the place of a detail that is erased: its digest, by which the chain goes on holding."""
    return {BLANKED: field_digest(salt, "detail", detail).hex()}


def is_blanked(detail: Any) -> bool:
    """Whether a detail was erased."""
    return isinstance(detail, dict) and set(detail) == {BLANKED} and bool(_DIGEST.fullmatch(str(detail[BLANKED])))


def canonical(value: Any) -> str:
    """A value as one text, the same whichever engine kept it (PostgreSQL rewrites numbers and the order of keys)."""
    if value is None or isinstance(value, bool):
        return json.dumps(value)
    if isinstance(value, int | float):
        return _number(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, dict):
        pairs = sorted((str(key), one) for key, one in value.items())
        return "{" + ",".join(f"{json.dumps(key)}:{canonical(one)}" for key, one in pairs) + "}"
    if isinstance(value, list | tuple):
        return "[" + ",".join(canonical(one) for one in value) + "]"
    return json.dumps(str(value))


def _number(value: float) -> str:
    as_float = float(value)
    if as_float.is_integer() and abs(as_float) < EXACT_BELOW:
        return str(int(as_float))
    return repr(as_float)


def walk(links: Iterable[Link]) -> Walk:
    """Follow a chain from its beginning to its end or to the first row that does not hold."""
    previous, rows = BEGINNING, 0
    for link in links:
        if not _holds(previous, link):
            return Walk(rows, previous, link.pk)
        previous, rows = link.digest, rows + 1
    return Walk(rows, previous)


def _holds(previous: str, link: Link) -> bool:
    try:
        return digest_after(previous, link.salt, link.values) == link.digest
    except ValueError:
        # A salt that is no hex was not written by this book.
        return False
