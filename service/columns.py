"""A query's rows as arrays, one per field, straight from the database driver."""

import warnings
from collections.abc import Mapping
from typing import Any

import numpy as np
from django.core.exceptions import EmptyResultSet
from django.db import DataError, connection
from django.db.models import QuerySet

from service.instants import EpochSeconds
from service.wear.arrays import Floats, Ints

ROWS_AT_ONCE = 100_000
MICROSECONDS = 1_000_000
# An instant without parts of a second and the comma after it: such texts are read as one table of fixed width.
WHOLE_SECONDS = np.dtype([("instant", "S19"), ("comma", "S1")])
# Ids that lie this close together are looked up in a table, others by a search.
MOST_SPREAD = 4


def columns(rows: QuerySet[Any], *plain: str, **instants: str) -> list[Floats]:
    """The named fields as float arrays, then the named instants as whole epoch seconds (nan where NULL).

    The query's own order is dropped: rows come in any order, the same in every array. Numbers have 15 digits.
    """
    fields = len(plain) + len(instants)
    try:
        return _by_text(rows, plain, instants) if connection.vendor == "sqlite" else _by_rows(rows, plain, instants)
    except EmptyResultSet:
        # One of none (a bow without cords): the database is not asked.
        return [np.empty(0) for _ in range(fields)]
    except DataError:
        # More text than the database puts into one string: some tens of millions of rows.
        return _by_rows(rows, plain, instants)


def _by_text(rows: QuerySet[Any], plain: tuple[str, ...], instants: Mapping[str, str]) -> list[Floats]:
    """SQLite joins each column to one text, which is read at once.

    Its driver makes a Python object of every cell, which for two million rows takes longer than all that is computed.
    """
    fields = [*plain, *instants.values()]
    sql, parameters = rows.order_by().values_list(*fields).query.sql_with_params()
    names = [f"c{i}" for i in range(len(fields))]
    none = ["nan"] * len(plain) + ["NaT"] * len(instants)
    joined = ", ".join(f"GROUP_CONCAT(IFNULL({name}, '{nil}'))" for name, nil in zip(names, none, strict=True))
    with connection.cursor() as cursor:
        # The inner query is the ORM's own; the names are this module's; values travel as parameters.
        cursor.execute(f"WITH found({', '.join(names)}) AS ({sql}) SELECT {joined} FROM found", parameters)  # nosec B608
        texts = [text or "" for text in cursor.fetchone()]
    numbers = [_numbers(text) for text in texts[: len(plain)]]
    return numbers + [_epoch_s(text) for text in texts[len(plain) :]]


def _numbers(text: str) -> Floats:
    # Whole numbers are read five times as fast as others; a point, "nan" or an exponent betrays the others.
    whole = not any(sign in text for sign in ".ne")
    with warnings.catch_warnings():
        # A text that is not all numbers is an error, not a shorter column.
        warnings.simplefilter("error", DeprecationWarning)
        return np.fromstring(text, dtype=np.int64 if whole else np.float64, sep=",").astype(np.float64, copy=False)


def _epoch_s(text: str) -> Floats:
    """Instants (or days: their first instant) as SQLite keeps them, in UTC."""
    if not text:
        return np.empty(0)
    raw = f"{text},".encode("ascii")
    if raw.count(b",") * WHOLE_SECONDS.itemsize == len(raw):
        cells = np.frombuffer(raw, dtype=WHOLE_SECONDS)
        if np.all(cells["comma"] == b","):
            return cells["instant"].astype("datetime64[s]").astype(np.float64)
    # Some have parts of a second, or are NULL, or are days.
    moments = np.array(text.split(","), dtype="datetime64[us]")
    return np.where(np.isnat(moments), np.nan, np.floor_divide(moments.astype(np.int64), MICROSECONDS))


def _by_rows(rows: QuerySet[Any], plain: tuple[str, ...], instants: Mapping[str, str]) -> list[Floats]:
    named = {f"{name}_s": EpochSeconds(field) for name, field in instants.items()}
    fields = [*plain, *named]
    parts = [np.empty((0, len(fields)))]
    sql, parameters = rows.order_by().annotate(**named).values_list(*fields).query.sql_with_params()
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)
        while batch := cursor.fetchmany(ROWS_AT_ONCE):
            parts.append(np.array(batch, dtype=np.float64))
    return list(np.ascontiguousarray(np.concatenate(parts).T))


def indices_of(ids: Floats | Ints, index: Mapping[int, int]) -> Ints:
    """The index of each id. Every id must be in `index`."""
    if not index or not ids.size:
        return np.zeros(ids.size, dtype=np.int64)
    keys = np.fromiter(index.keys(), dtype=np.int64)
    values = np.fromiter(index.values(), dtype=np.int64)
    lowest, span = int(keys.min()), int(np.ptp(keys)) + 1
    if span <= MOST_SPREAD * ids.size:
        table = np.zeros(span, dtype=np.int64)
        table[keys - lowest] = values
        return table[ids.astype(np.int64) - lowest]
    order = np.argsort(keys)
    return values[order][np.searchsorted(keys[order], ids.astype(np.int64))]
