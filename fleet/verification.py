"""Holding the audit trail to its chain: is every row there, in its place, as it was written?"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from fleet.chain import BEGINNING, FIELDS, Link, Walk, is_blanked, walk
from fleet.contents_verification import NOTHING_SIGNED, Covered, SealedContents
from fleet.models import AuditEntry, AuditHead

BATCH = 2_000
# Verbs whose rows name, under `rows`, the audit rows whose details were erased with a name.
ERASING = frozenset({"erase_person", "erase_guest_name"})


@dataclass(frozen=True)
class Verified:
    """What was found: how many rows hold, the digest of the last of them, and in words what is wrong ("" if nothing).

    `seen` tells whether a digest that was noted earlier stands in the chain (None: none was asked for). `covered`:
    how many signed records were held to their seals, and how many have none.
    """

    rows: int
    digest: str
    wrong: str
    seen: bool | None = None
    covered: Covered = NOTHING_SIGNED


def verify_record(noted: str = "") -> Verified:
    """Walk the whole chain, which may grow meanwhile; `noted` is a digest that somebody wrote down earlier."""
    before = _head()
    met: set[str] = set()
    blanks, contents = _Blanks(), SealedContents()
    found = walk(_watched(contents.noted(blanks.noted(_links())), {before.digest, noted}, met))
    seen = (noted in met or noted == BEGINNING) if noted else None
    wrong = _wrong(found, before, met) or blanks.wrong() or contents.wrong()
    return Verified(found.rows, found.digest, wrong, seen, contents.covered())


@dataclass
class _Blanks:
    """Audit rows without their detail, and those that an erasure names: no other may be blank."""

    blank: set[int] = field(default_factory=set)
    named: set[int] = field(default_factory=set)

    def noted(self, links: Iterator[Link]) -> Iterator[Link]:
        for link in links:
            yield link
            # Asked for the next one: this one held.
            if is_blanked(link.values["detail"]):
                self.blank.add(link.pk)
            elif link.values["verb"] in ERASING:
                self.named.update(link.values["detail"]["rows"])

    def wrong(self) -> str:
        hidden = self.blank - self.named
        return f"the detail of audit row {min(hidden)} was taken out, and no erasure names it" if hidden else ""


def _wrong(found: Walk, before: AuditHead, met: set[str]) -> str:
    if found.broken_at is not None:
        return (
            f"audit row {found.broken_at} is the first that does not hold: it, or the row before it, was changed, "
            "added or taken out by something other than this book"
        )
    if before.length and before.digest not in met:
        return f"rows are missing at the end: the head counts {before.length}, and {found.rows} are there"
    # What was written during the walk is known to the head by now.
    if found.rows > _head().length or found.rows < before.length:
        return f"the head counts {_head().length} rows, and {found.rows} are there"
    return ""


def _head() -> AuditHead:
    return AuditHead.objects.filter(pk=AuditHead.ONLY).first() or AuditHead(digest=BEGINNING, length=0)


def _watched(links: Iterator[Link], wanted: set[str], met: set[str]) -> Iterator[Link]:
    for link in links:
        yield link
        # Asked for the next one: this one held.
        if link.digest in wanted:
            met.add(link.digest)


def _links() -> Iterator[Link]:
    """Every row by number, in batches: no transaction stays open for the length of the walk."""
    last = 0
    rows = AuditEntry.objects.order_by("pk")
    while batch := list(rows.filter(pk__gt=last).values("pk", "salt", "digest", *FIELDS)[:BATCH]):
        for row in batch:
            yield Link(row["pk"], {name: row[name] for name in FIELDS}, row["salt"], row["digest"])
        last = batch[-1]["pk"]
