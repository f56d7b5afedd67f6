"""A query's rows as arrays, one per field, straight from the database driver."""

from collections.abc import Mapping
from typing import Any

import numpy as np
from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import QuerySet

from service.instants import EpochSeconds
from service.wear.arrays import Floats, Ints

ROWS_AT_ONCE = 100_000


def columns(rows: QuerySet[Any], *plain: str, **instants: str) -> list[Floats]:
    """The named fields as float arrays, then the named instants as whole epoch seconds (nan where NULL)."""
    named = {f"{name}_s": EpochSeconds(field) for name, field in instants.items()}
    fields = [*plain, *named]
    parts = [np.empty((0, len(fields)))]
    try:
        sql, parameters = rows.order_by().annotate(**named).values_list(*fields).query.sql_with_params()
    except EmptyResultSet:
        # One of none (a bow without cords): the database is not asked.
        return list(parts[0].T)
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
    order = np.argsort(keys)
    values = np.fromiter(index.values(), dtype=np.int64)[order]
    return values[np.searchsorted(keys[order], ids.astype(np.int64))]
