"""What tests' books begin with, worked out once: a builder's writes are kept and made again in a book like the first.

A builder goes through the service's own verbs: a hundred statements, most of whose time is Django's. In a book in the
same state, with the same arguments, it would write the same rows under the same numbers, so they are written as they
were. "The same state" is what the audit chain's head and the tables' counters of numbers say; a builder that reads rows
which a test put there past the verbs, without a number of their own, must not be remembered.

On SQLite, inside the transaction that a test rolls back. Everywhere else a builder simply runs: PostgreSQL's counters
do not go back with a transaction, and what follows on a commit cannot be kept.
"""

import functools
import hashlib
import os
import pickle
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from django.db import connection, models

from fleet.models import AuditHead

P = ParamSpec("P")
R = TypeVar("R")
Statements = list[tuple[str, Any, bool]]

HOUR_S = 3_600
NOT_WRITES = ("SELECT", "PRAGMA", "SAVEPOINT", "RELEASE", "EXPLAIN")

folder: Path | None = None
"""Where the processes of one run share what they remember; without it each has its own."""
_kept: dict[str, bytes] = {}


def remembered(*seen: Callable[[], object]) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Remember a builder of records. `seen`: what it reads besides the book, its arguments and the hour."""

    def decorate(builder: Callable[P, R]) -> Callable[P, R]:
        @functools.wraps(builder)
        def build(*args: P.args, **kwargs: P.kwargs) -> R:
            if connection.vendor != "sqlite" or not connection.in_atomic_block:
                return builder(*args, **kwargs)
            key = _key(f"{builder.__module__}.{builder.__qualname__}", [value() for value in seen], args, kwargs)
            kept = _look_up(key)
            if kept is not None:
                before: tuple[Statements, R, object] = pickle.loads(kept)
                _write_again(before[0])
                assert _state() == before[2], f"{builder.__qualname__} did not come out as it was remembered"
                return before[1]
            with _writes() as statements:
                made = builder(*args, **kwargs)
            # A refusal on the way would have to be made again with what it took back.
            if not any(sql.startswith("ROLLBACK") for sql, _, _ in statements):
                _keep(key, pickle.dumps((statements, made, _state())))
            return made

        return build

    return decorate


def _key(name: str, seen: list[object], args: tuple[object, ...], kwargs: dict[str, object]) -> str:
    hour = int(time.time() // HOUR_S)
    return hashlib.sha256(repr((name, _plain(seen), hour, _state(), _plain(args), _plain(kwargs))).encode()).hexdigest()


def _plain(value: object) -> object:
    """Arguments by what they are: records by their numbers."""
    if isinstance(value, models.Model):
        return value._meta.label, value.pk
    if is_dataclass(value) and not isinstance(value, type):
        return type(value).__qualname__, [_plain(getattr(value, field.name)) for field in fields(value)]
    if isinstance(value, dict):
        return [(_plain(name), _plain(item)) for name, item in value.items()]
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value


def _state() -> tuple[object, ...]:
    """The head of the audit chain and the last number of each table."""
    head = AuditHead.objects.filter(pk=AuditHead.ONLY).values_list("digest", "length").first()
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, seq FROM sqlite_sequence WHERE seq > 0 ORDER BY name")
        return head, cursor.fetchall()


@contextmanager
def _writes() -> Iterator[Statements]:
    """The statements that write, as they are made."""
    found: Statements = []

    def note(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]) -> Any:
        if not sql.lstrip().startswith(NOT_WRITES):
            found.append((sql, params, many))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield found


def _write_again(statements: Statements) -> None:
    with connection.cursor() as cursor:
        for sql, params, many in statements:
            (cursor.executemany if many else cursor.execute)(sql, params)


def _look_up(key: str) -> bytes | None:
    if key not in _kept and folder is not None and (folder / key).exists():
        _kept[key] = (folder / key).read_bytes()
    return _kept.get(key)


def _keep(key: str, kept: bytes) -> None:
    _kept[key] = kept
    if folder is not None:
        # Whole or not at all: another process may look at this moment.
        begun = folder / f"{key}.{os.getpid()}"
        begun.write_bytes(kept)
        begun.rename(folder / key)
