"""What a kind of file is: its columns, and how its rows enter the book."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Protocol

from service.intake.changes import Change, Difference, Status
from service.intake.columns import Column
from service.intake.desk import Desk
from service.intake.rows import Report, Row

Take = Callable[[Row, Desk], Change]


@dataclass(frozen=True)
class Kind:
    """Files of records that people keep: rows are few, and each goes through its verbs one by one.

    `identity` are the fields that together may stand in a file only once. `take` compares a row with the book and
    writes it by verbs of fleet.record; it raises CellError or Refused. `prepare` sees all rows first; `order` sorts
    them.
    """

    name: str
    about: str
    columns: tuple[Column, ...]
    identity: tuple[str, ...]
    take: Take
    prepare: Callable[[list[Row], Desk], None] | None = None
    order: Callable[[Row], Any] | None = None


@dataclass(frozen=True, slots=True)
class Sifted:
    """A good row and what it does. `entry` is what the bulk verb takes, None for a row that is in the book already.

    What a new row adds is spelled out only for the few rows that a preview shows.
    """

    row: Row
    subject: str
    status: Status
    entry: Any = None
    differences: tuple[Difference, ...] = ()


class Sieve(Protocol):
    """Tells new rows from known ones, over a whole file, chunk by chunk; reports rows that contradict the book."""

    def sift(self, rows: list[Row]) -> list[Sifted]:
        """Each good row with what it does."""

    def finish(self) -> set[int]:
        """Report what only the whole file can show; the lines of rows that were thought new and are bad."""


@dataclass(frozen=True)
class StreamedKind:
    """Files of events by the 100,000: read as a stream, written by a bulk verb.

    `sieve(desk, report)` begins a file; `write(desk, what the sieve gave, name of the file)` calls the verb.
    """

    name: str
    about: str
    columns: tuple[Column, ...]
    sieve: Callable[[Desk, Report], Sieve]
    write: Callable[[Desk, Iterable[Any], str], int]


AnyKind = Kind | StreamedKind
