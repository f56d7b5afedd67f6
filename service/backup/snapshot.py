"""One consistent view of the whole book while others go on writing."""

import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from service.backup.archive import BackupRefused

ALIAS = "snapshot"


@contextmanager
def snapshot(scratch: Path) -> Iterator[str]:
    """Yields the alias of a database connection that sees the book as of one instant.

    PostgreSQL: one repeatable-read transaction. SQLite: a copy by its online backup into `scratch` (deleted
    afterwards), checked page by page, so that a damaged file is found while older backups still exist.
    """
    book = connections["default"]
    view = book.copy(ALIAS)
    if book.vendor == "sqlite":
        copy = scratch / f".snapshot-{secrets.token_hex(6)}.sqlite3"
        view.settings_dict |= {"NAME": str(copy), "OPTIONS": {}}
        try:
            _copy_sqlite(str(book.settings_dict["NAME"]), copy)
            with _opened(view):
                yield ALIAS
        finally:
            copy.unlink(missing_ok=True)
        return
    from psycopg import IsolationLevel

    view.settings_dict["OPTIONS"] = {**view.settings_dict["OPTIONS"], "isolation_level": IsolationLevel.REPEATABLE_READ}
    with _opened(view), transaction.atomic(using=ALIAS):
        with view.cursor() as cursor:
            cursor.execute("SET TRANSACTION READ ONLY")
        yield ALIAS


@contextmanager
def _opened(view: BaseDatabaseWrapper) -> Iterator[None]:
    connections[ALIAS] = view
    try:
        yield
    finally:
        view.close()
        del connections[ALIAS]


def _copy_sqlite(name: str, copy: Path) -> None:
    copy.touch(mode=0o600)
    with closing(sqlite3.connect(name, timeout=20)) as book, closing(sqlite3.connect(copy)) as target:
        # All pages in one step: the copy is of one instant, and writers append to the log meanwhile.
        book.backup(target, pages=-1)
        wrong = target.execute("PRAGMA quick_check(3)").fetchall()
        dangling = target.execute("PRAGMA foreign_key_check").fetchall()
    if wrong != [("ok",)] or dangling:
        raise BackupRefused(
            f"The book's own file {name} is damaged ({(dangling or wrong)[0]}): no backup is "
            "made of it. Restore the latest backup into a new data directory, and look at the disk."
        )
