"""Rows copied straight into PostgreSQL's tables, column by column: some hundred thousand a second.

The connection's user must be a superuser: references between tables are not looked at row by row, for the rows are made
here. Everything that the tables themselves demand (once only, in order, no overlap) is.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
import numpy.typing as npt
from django.apps import apps
from django.core.management.color import no_style
from django.db import connection

NULL = r"\N"
Column = Any
"""A list, an array, or one value for every row."""


@contextmanager
def copying() -> Iterator[None]:
    """Without looking at references; afterwards every table numbers its rows from where they end, and is counted."""
    with connection.cursor() as cursor:
        cursor.execute("SET session_replication_role = replica")
        yield
        cursor.execute("SET session_replication_role = DEFAULT")
        for statement in connection.ops.sequence_reset_sql(no_style(), list(apps.get_models())):
            cursor.execute(statement)
        cursor.execute("ANALYZE")


def copy(table: str, **columns: Column) -> None:
    """Append rows to a table; each column is named as in the table."""
    rows = next(len(one) for one in columns.values() if _is_many(one))
    texts = [_texts(one, rows) for one in columns.values()]
    names = ", ".join(f'"{name}"' for name in columns)
    with (
        connection.cursor() as cursor,
        cursor.copy(f"COPY {table} ({names}) FROM STDIN") as into,
    ):
        into.write("\n".join(map("\t".join, zip(*texts, strict=True))) + "\n")


def instants(epoch_s: npt.NDArray[Any]) -> list[str]:
    """Epoch seconds as PostgreSQL reads them; nan is NULL."""
    known = ~np.isnan(epoch_s)
    seconds = np.where(known, epoch_s, 0).astype("datetime64[s]")
    texts = np.char.add(np.datetime_as_string(seconds, unit="s"), "+00")
    return np.where(known, texts, NULL).tolist()


def days(epoch_s: npt.NDArray[Any]) -> list[str]:
    """The days of epoch seconds."""
    return np.datetime_as_string(epoch_s.astype("datetime64[s]"), unit="D").tolist()


def _is_many(column: Column) -> bool:
    return isinstance(column, list | np.ndarray)


def _texts(column: Column, rows: int) -> list[str]:
    if not _is_many(column):
        return [_text(column)] * rows
    values = column.tolist() if isinstance(column, np.ndarray) else column
    return values if values and isinstance(values[0], str) else [_text(one) for one in values]


def _text(value: Any) -> str:
    return NULL if value is None else str(value)
