"""Rows of a table as lines of JSON and back; the same bytes whichever engine the row came from."""

import json
from collections.abc import Iterable, Iterator
from datetime import date, datetime, time
from decimal import Decimal
from itertools import islice
from typing import Any

from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper

from service.backup.archive import Writer
from service.said import kept_deep

BATCH = 2_000


def columns_of(model: type[models.Model]) -> list[str]:
    """The attribute names of a table's columns, in the order of a row's values."""
    return [field.attname for field in model._meta.concrete_fields]


def write_rows(model: type[models.Model], alias: str, into: Writer) -> None:
    """Write every row of a table, by primary key: the names of the columns first, then one list a row."""
    columns = columns_of(model)
    into.write(_line(columns))
    rows = model._base_manager.using(alias).order_by("pk").values_list(*columns)
    for row in rows.iterator(chunk_size=BATCH):
        into.write(_line(kept_deep(row)))
        into.rows += 1


def _line(values: Any) -> bytes:
    # Keys are sorted: PostgreSQL keeps those of its JSON in an order of its own.
    return (
        json.dumps(values, default=_plain, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode() + b"\n"
    )


def _plain(value: Any) -> Any:
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    raise TypeError(f"a column holds a {type(value).__name__}: teach service.backup.rows to write and read it")


def read_rows(model: type[models.Model], lines: Iterable[bytes]) -> Iterator[list[Any]]:
    """The rows of a table as Python values, in the order of `columns_of`."""
    stream = iter(lines)
    header = json.loads(next(stream))
    by_name = {field.attname: field for field in model._meta.concrete_fields}
    fields = [by_name[name] for name in header]
    places = [header.index(name) for name in columns_of(model)]
    for line in stream:
        values = [_value(field, value) for field, value in zip(fields, json.loads(line), strict=True)]
        yield [values[place] for place in places]


def _value(field: Any, value: Any) -> Any:
    if value is None or isinstance(field, models.JSONField):
        return value
    target = field.target_field if field.is_relation else field
    return target.to_python(value)


def insert_rows(model: type[models.Model], rows: Iterable[list[Any]], connection: BaseDatabaseWrapper) -> None:
    """Insert whole rows with their primary keys."""
    quoted = connection.ops.quote_name
    fields: list[Any] = list(model._meta.concrete_fields)
    columns = ", ".join(quoted(field.column) for field in fields)
    places = ", ".join(["%s"] * len(fields))
    # Only names from the model go into the text; every value is a parameter.
    sql = f"INSERT INTO {quoted(model._meta.db_table)} ({columns}) VALUES ({places})"  # nosec B608
    stream = iter(rows)
    with connection.cursor() as cursor:
        while batch := list(islice(stream, BATCH)):
            cursor.executemany(
                sql,
                [
                    [field.get_db_prep_save(value, connection) for field, value in zip(fields, row, strict=True)]
                    for row in batch
                ],
            )
