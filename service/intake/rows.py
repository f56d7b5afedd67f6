"""Rows of a file as values of the register, each fault a Problem with its line and column."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from service.intake.columns import EMPTIED, Bound, Layout
from service.intake.desk import Desk
from service.intake.problems import CellError, Problem
from service.intake.tables import Table
from service.intake.workbook import FORMULA_WITHOUT_RESULT
from service.said import say

SPREADSHEET_ERRORS = frozenset({"#REF!", "#N/A", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!"})
Report = Callable[[Problem], None]


@dataclass(slots=True)
class Row:
    """One row: the values of its cells that are not empty, by field, as the register holds them."""

    line: int
    values: dict[str, Any]
    cells: list[str] = field(repr=False)
    layout: Layout = field(repr=False)

    def __getitem__(self, name: str) -> Any:
        return self.values[name]

    def get(self, name: str, default: Any = None) -> Any:
        """The value of a field, or the default where its cell is empty."""
        return self.values.get(name, default)

    def given(self, *names: str) -> dict[str, Any]:
        """The named fields whose cells are not empty."""
        return {name: self.values[name] for name in names if name in self.values}

    def problem(self, fault: CellError) -> Problem:
        """A fault of this row, with the cell that it names."""
        header = self.layout.header_of(fault.column) if fault.column else ""
        return Problem(self.line, header, self._text_of(fault.column), fault.why, fault.allowed, fault.fix)

    def _text_of(self, name: str) -> str:
        for bound in self.layout.bound:
            if bound.column.field == name and bound.place < len(self.cells):
                return self.cells[bound.place]
        return ""


def read_rows(table: Table, layout: Layout, desk: Desk, report: Report) -> Iterator[Row | None]:
    """Every row of the table; None in place of one with a bad cell, each of which was reported."""
    for line, cells in table.rows():
        row = Row(line, {}, cells, layout)
        yield row if _within_header(row, report) & _read_cells(row, desk, report) else None


def _read_cells(row: Row, desk: Desk, report: Report) -> bool:
    faulty: set[str] = set()
    for bound in row.layout.bound:
        text = row.cells[bound.place] if bound.place < len(row.cells) else ""
        try:
            if text:
                row.values[bound.column.field] = _read(bound, text, row.values, desk)
            elif bound.column.required:
                raise CellError(say("the cell is empty"), allowed=bound.column.allowed, fix=say("fill it in"))
        except CellError as fault:
            fault.column = fault.column or bound.column.field
            # A site that is only missing because the row's bow is unknown would be a second word for one fault.
            if not faulty or (fault.column not in faulty and fault.column != "site"):
                report(row.problem(fault))
            faulty.add(fault.column)
            if bound.column.field == "site":
                break  # the other names and times of the row hang on its site
    return not faulty


def _read(bound: Bound, text: str, values: Mapping[str, Any], desk: Desk) -> Any:
    if text[0] == "#" and (text in SPREADSHEET_ERRORS or text == FORMULA_WITHOUT_RESULT):
        raise CellError(
            say("the spreadsheet shows an error or no result here"),
            allowed=bound.column.allowed,
            fix=say("open the file in its spreadsheet, mend the formula, save it, or paste the plain value"),
        )
    if text == EMPTIED:
        return _emptied(bound)
    return bound.column.read(text, bound.unit, values, desk)


def _emptied(bound: Bound) -> Any:
    if not bound.column.can_be_emptied:
        raise CellError(
            say("it cannot be emptied"), allowed=bound.column.allowed, fix=say("give a value, or leave it as it is")
        )
    return bound.column.emptied


def _within_header(row: Row, report: Report) -> bool:
    beyond = [cell for cell in row.cells[row.layout.width :] if cell]
    under_blank = [row.cells[place] for place in row.layout.unnamed if place < len(row.cells) and row.cells[place]]
    for cell in beyond + under_blank:
        many, none = say("the row has more cells than the header has columns"), say("its column has no header")
        report(
            Problem(
                row.line,
                "",
                cell,
                many if beyond else none,
                say("%(count)d columns", count=row.layout.width),
                say("put text that holds the delimiter in quotation marks, or name the column"),
            )
        )
    return not (beyond or under_blank)
