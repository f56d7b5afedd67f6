"""Columns of the kinds of file, and how a file's header is matched to them."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from service.intake.desk import Desk, Values
from service.intake.problems import Problem, nearest
from service.intake.tables import Table
from service.said import joined, mark, say

Read = Callable[[str, str, Values, Desk], Any]
Show = Callable[[Any, str], str]


# A cell with this word empties its field on purpose; a cell with nothing in it leaves the field as it is.
EMPTIED = "(empty)"
_STAYS = object()
OR = mark(" or ")


def _plainly(value: Any, _unit: str) -> str:
    return "" if value is None else str(value)


@dataclass(frozen=True)
class Column:
    """A field of a kind of file.

    `read(text, unit, values so far, desk)` gives the value as the register holds it, or raises CellError; `show` is
    its inverse, for previews. `units` are the suffixes that its header may have, "" for none. `late` columns are
    read after the others, because they need the row's site. `stem` is the header without its unit where that is not
    the field itself. `options` are the words that a form offers, each with its name, where only these are taken.
    `exact`, where `show` rounds, spells a value so that reading it gives the same one again.
    `emptied` is what the register holds of a field that was emptied, for those that may be: see `may_be_emptied`.
    """

    field: str
    read: Read
    about: str
    units: tuple[str, ...] = ("",)
    required: bool = False
    late: bool = False
    show: Show = _plainly
    allowed: str = ""
    stem: str = ""
    options: tuple[tuple[str, Any], ...] = ()
    emptied: Any = _STAYS
    exact: Show | None = None

    @property
    def can_be_emptied(self) -> bool:
        """Whether the field may be emptied once it holds something."""
        return self.emptied is not _STAYS

    @property
    def headers(self) -> tuple[str, ...]:
        """The header names that this column goes by."""
        stem = self.stem or self.field
        return tuple(f"{stem}_{unit}" if unit else stem for unit in self.units)


def may_be_emptied(column: Column, value: Any = None) -> Column:
    """The column, whose field may be emptied again; `value` is what the register then holds."""
    return replace(column, emptied=value)


@dataclass(frozen=True)
class Bound:
    """A column found in a file: at which place, under which header, in which unit."""

    place: int
    header: str
    column: Column
    unit: str


@dataclass(frozen=True)
class Layout:
    """The columns of one file in the order in which they are read."""

    bound: tuple[Bound, ...]
    unnamed: tuple[int, ...]
    width: int

    def header_of(self, field: str) -> str:
        """How the file calls a field (or how it should, if it has no such column)."""
        return next((one.header for one in self.bound if one.column.field == field), field)

    def has(self, field: str) -> bool:
        """Whether the file has a column for a field."""
        return any(one.column.field == field for one in self.bound)


def spelled(header: str) -> str:
    """A header as it is compared: "Brace height (in)" is brace_height_in."""
    return re.sub(r"[^0-9a-z]+", "_", header.strip().lower()).strip("_")


def match(table: Table, columns: Sequence[Column]) -> tuple[Layout, list[Problem]]:
    """Match a file's header to the columns of its kind; every fault of the header is one Problem."""
    known = {
        header: (column, unit) for column in columns for header, unit in zip(column.headers, column.units, strict=True)
    }
    bound: list[Bound] = []
    unnamed: list[int] = []
    problems: list[Problem] = []
    taken: dict[str, str] = {}
    for place, header in enumerate(table.header):
        name = spelled(header)
        if not header:
            unnamed.append(place)
        elif name not in known:
            problems.append(_unknown(table, header, name, known))
        elif known[name][0].field in taken:
            problems.append(_twice(table, header, taken[known[name][0].field]))
        else:
            column, unit = known[name]
            taken[column.field] = header
            bound.append(Bound(place, header, column, unit))
    problems += [_missing(table, column) for column in columns if column.required and column.field not in taken]
    bound.sort(key=lambda one: (one.column.late, columns.index(one.column)))
    return Layout(tuple(bound), tuple(unnamed), len(table.header)), problems


def _unknown(table: Table, header: str, name: str, known: Mapping[str, tuple[Column, str]]) -> Problem:
    with_unit = [one for one, (column, unit) in known.items() if unit and (column.stem or column.field) == name]
    if with_unit:
        why, fix = say("the column does not say its unit"), say("name it %(names)s", names=joined(OR, with_unit))
    else:
        meant = nearest(name, known)
        why = say("no column of this kind of file has that name")
        alone = say("take the column out")
        fix = say("did you mean %(meant)r? Else take the column out", meant=meant) if meant else alone
    return Problem(table.header_line, header, "", why, say("the headers %(names)s", names=", ".join(known)), fix)


def _twice(table: Table, header: str, first: str) -> Problem:
    return Problem(
        table.header_line,
        header,
        "",
        say("the column %(first)r already gives this", first=first),
        say("one column each"),
        say("take one out"),
    )


def _missing(table: Table, column: Column) -> Problem:
    names = joined(OR, column.headers)
    return Problem(
        table.header_line,
        column.field,
        "",
        say("the column is missing"),
        say("the header %(names)s", names=names),
        say("add the column"),
    )
