"""Writing audit rows: each is chained to the one before it, one writer at a time."""

from collections.abc import Sequence

from django.db import connection, transaction

from fleet.chain import BEGINNING, FIELDS, digest_after, new_salt
from fleet.models import AuditEntry, AuditHead

ROWS_AT_ONCE = 500


def hold_head() -> AuditHead:
    """The head of the chain, locked until the transaction ends.

    A verb takes it before any other row: two verbs that lock the same rows then wait for each other in one order and
    cannot deadlock. SQLite has one writer at a time anyway (its transactions begin IMMEDIATE).
    """
    head = AuditHead.objects.select_for_update().filter(pk=AuditHead.ONLY).first()
    return head or AuditHead(pk=AuditHead.ONLY, digest=BEGINNING, length=0)


def begin_in_order() -> None:
    """Take the head's lock where the engine locks rows."""
    if connection.features.has_select_for_update:
        hold_head()


def write_sealed(entries: Sequence[AuditEntry]) -> None:
    """Write audit rows in this order at the end of the chain."""
    if not entries:
        return
    with transaction.atomic():
        head = hold_head()
        for entry in entries:
            entry.salt = new_salt()
            values = {name: getattr(entry, name) for name in FIELDS}
            entry.digest = head.digest = digest_after(head.digest, entry.salt, values)
        head.length += len(entries)
        AuditEntry.objects.bulk_create(entries, ROWS_AT_ONCE)
        head.save()
