"""Tests whose transactions really end: what runs on commit runs, and the book is empty again afterwards."""

from collections.abc import Iterator

import pytest
from django.db import connection


@pytest.fixture
def committed_book(transactional_db: None) -> Iterator[None]:
    """An empty book in which a commit is a commit."""
    yield
    forget_audit()


def forget_audit() -> None:
    """The audit rows go before the tables are emptied: on SQLite a trigger keeps them from being deleted.

    PostgreSQL empties tables by truncation, which no row's trigger sees.
    """
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'fleet_auditentry'")
        triggers = cursor.fetchall()
        for name, _ in triggers:
            cursor.execute(f'DROP TRIGGER "{name}"')
        cursor.execute("DELETE FROM fleet_auditentry")
        for _, sql in triggers:
            cursor.execute(sql)
