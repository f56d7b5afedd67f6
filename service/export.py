"""Rows -> a CSV or XLSX file that a spreadsheet opens safely: numbers stay numbers, text is never run as a formula."""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from enum import StrEnum

from openpyxl import Workbook
from openpyxl.utils import get_column_letter

Cell = str | int | float | date | None
# What a spreadsheet takes for the beginning of a formula, or skips to find one (OWASP, "CSV Injection").
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
SHEET_TITLE_LENGTH = 31
WIDTH_CHARACTERS = 16


class Format(StrEnum):
    """The formats of a file that goes out."""

    CSV = "csv"
    XLSX = "xlsx"

    @property
    def content_type(self) -> str:
        """Its media type (RFC 7111, ECMA-376)."""
        return {
            Format.CSV: "text/csv; charset=utf-8",
            Format.XLSX: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        }[self]


def safe(cell: Cell) -> Cell:
    """A cell that no spreadsheet runs: text that begins like a formula gets an apostrophe before it.

    Control characters, which no sheet can hold, are left out. Numbers and days pass as they are.
    """
    if not isinstance(cell, str):
        return cell
    text = _CONTROL.sub("", cell)
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def table_file(format: Format, title: str, header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """A table as the bytes of a file; days are written as YYYY-MM-DD in CSV and as dates in XLSX."""
    return csv_text(header, rows).encode() if format is Format.CSV else _xlsx(title, header, rows)


def csv_text(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """A header line and rows, as RFC 4180 wants them."""
    text = io.StringIO(newline="")
    sheet = csv.writer(text)
    sheet.writerow(header)
    sheet.writerows([_plain(safe(cell)) for cell in row] for row in rows)
    return text.getvalue()


def _plain(cell: Cell) -> str | int | float:
    if cell is None:
        return ""
    return cell.isoformat() if isinstance(cell, date) else cell


def _xlsx(title: str, header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    book = Workbook(write_only=True)
    sheet = book.create_sheet(re.sub(r"[\[\]:*?/\\]", " ", title)[:SHEET_TITLE_LENGTH])
    sheet.freeze_panes = "A2"
    for place in range(1, len(header) + 1):
        sheet.column_dimensions[get_column_letter(place)].width = WIDTH_CHARACTERS
    sheet.append(list(header))
    for row in rows:
        sheet.append([_untied(safe(cell)) for cell in row])
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


def _untied(cell: Cell) -> Cell:
    """A sheet's instants have no zone: they are written in the one that they carry."""
    return cell.replace(tzinfo=None) if isinstance(cell, datetime) else cell
