"""Tests whose transactions really end: what runs on commit runs, and the book is empty again afterwards."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.db import connection

AUDIT_TABLES = ("fleet_auditentry", "fleet_audithead")


@pytest.fixture
def committed_book(transactional_db: None) -> Iterator[None]:
    """An empty book in which a commit is a commit."""
    yield
    forget_audit()


def forget_audit() -> None:
    """The audit rows and their chain's head go before the tables are emptied: triggers keep them from it."""
    with audit_guards_away(), connection.cursor() as cursor:
        for table in AUDIT_TABLES:
            cursor.execute(f"DELETE FROM {table}")


@contextmanager
def audit_guards_away() -> Iterator[None]:
    """What somebody with the database's own password can do: the triggers step aside, and come back."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # A table with checks still to come cannot be altered.
            connection.check_constraints()
            for table in AUDIT_TABLES:
                cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
            yield
            connection.check_constraints()
            for table in AUDIT_TABLES:
                cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
            return
        cursor.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name IN (%s, %s)", AUDIT_TABLES
        )
        triggers = cursor.fetchall()
        for name, _ in triggers:
            cursor.execute(f'DROP TRIGGER "{name}"')
        yield
        for _, sql in triggers:
            cursor.execute(sql)
