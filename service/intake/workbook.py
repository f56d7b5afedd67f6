"""XLSX workbooks: refused when they unpack to too much, read row by row, typed cells spelled as text.

openpyxl reads XML through defusedxml where that is installed (it is pinned, and a test holds it), so entity
expansion is refused. `ZipInfo.file_size` is binding: zipfile never yields more than it, and a false one fails the CRC.
"""

import io
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

import openpyxl
from defusedxml.common import DefusedXmlException
from django.conf import settings
from openpyxl.utils.exceptions import InvalidFileException

from service.intake.problems import TableRefused
from service.said import Said, figure, say

MAX_COLUMNS = 256
MEGABYTE = 1024 * 1024
# What openpyxl and the standard library raise on damaged or hostile workbooks.
_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    DefusedXmlException,
    InvalidFileException,
    ParseError,
    KeyError,
    ValueError,
    TypeError,
    AttributeError,
    IndexError,
    EOFError,
    NotImplementedError,
    OverflowError,
)
FORMULA_WITHOUT_RESULT = "#FORMULA WITHOUT A SAVED RESULT"


def sheet_rows(source: bytes | Path) -> Iterator[tuple[int, list[str]]]:
    """(row number, cells as text) of the one sheet that holds data."""
    with _Workbook(source, computed=True) as book:
        if not book.has_formulas():
            yield from _spelled_rows(book.cells())
            return
        with _Workbook(source, computed=False) as written:
            yield from _spelled_rows(_with_lost_results(book.cells(), written.cells()))


def _spelled_rows(rows: Iterator[tuple[Any, ...]]) -> Iterator[tuple[int, list[str]]]:
    for number, cells in enumerate(rows, start=1):
        spelled = [_spelled(cell) for cell in cells]
        while spelled and not spelled[-1]:
            spelled.pop()
        if len(spelled) >= MAX_COLUMNS:
            raise TableRefused(
                say(
                    "Row %(number)s has %(most)d columns or more: keep only the columns of the table.",
                    number=number,
                    most=MAX_COLUMNS,
                )
            )
        yield number, spelled


def _with_lost_results(
    computed: Iterator[tuple[Any, ...]], written: Iterator[tuple[Any, ...]]
) -> Iterator[tuple[Any, ...]]:
    """The computed cells; a formula whose result was never saved becomes a marked cell instead of a blank one."""
    for results, formulas in zip(computed, written, strict=True):
        yield tuple(
            _Lost() if cell.value is None and getattr(formula, "data_type", "") == "f" else cell
            for cell, formula in zip(results, formulas, strict=True)
        )


class _Lost:
    """A cell whose formula has no saved result."""

    value = FORMULA_WITHOUT_RESULT
    number_format = "General"


class _Workbook:
    """A workbook open for reading; every fault of the file comes out as TableRefused."""

    def __init__(self, source: bytes | Path, *, computed: bool) -> None:
        self._stream = io.BytesIO(source) if isinstance(source, bytes) else source.open("rb")
        self._computed = computed

    def __enter__(self) -> "_Workbook":
        try:
            self._check_size()
            self._book = openpyxl.load_workbook(self._stream, read_only=True, data_only=self._computed)
            self.sheet = self._only_sheet_with_data()
        except TableRefused:
            self._stream.close()
            raise
        except _BROKEN as fault:
            self._stream.close()
            raise TableRefused(_not_a_workbook(fault)) from fault
        return self

    def __exit__(self, *_: object) -> None:
        self._book.close()
        self._stream.close()

    def _check_size(self) -> None:
        with zipfile.ZipFile(self._stream) as archive:
            unpacked = sum(entry.file_size for entry in archive.infolist())
        limit = settings.UPLOAD_MAX_BYTES
        if unpacked > limit:
            raise TableRefused(
                say(
                    "The workbook unpacks to %(unpacked)s MB, and at most %(limit)s MB are taken: split it into "
                    "several files, or export the sheet as CSV.",
                    unpacked=figure(unpacked / MEGABYTE, ".1f"),
                    limit=figure(limit / MEGABYTE, ".1f"),
                )
            )

    def _only_sheet_with_data(self) -> Any:
        filled = [sheet for sheet in self._book.worksheets if self._has_data(sheet)]
        if not filled:
            raise TableRefused(say("The workbook holds no text: export the table again, with its header line."))
        if len(filled) > 1:
            titles = ", ".join(sheet.title for sheet in filled)
            raise TableRefused(
                say(
                    "The workbook has data on %(count)d sheets (%(titles)s): one table a file, so that none is "
                    "passed over; save each sheet as a file of its own.",
                    count=len(filled),
                    titles=titles,
                )
            )
        return filled[0]

    def _has_data(self, sheet: Any) -> bool:
        return any(any(value is not None for value in row) for row in _rows_of(sheet, values_only=True))

    def has_formulas(self) -> bool:
        """Whether any sheet's XML holds a formula; read as a stream, since most files have none."""
        with zipfile.ZipFile(self._stream) as archive:
            sheets = [name for name in archive.namelist() if name.startswith("xl/worksheets/")]
            return any(_holds_formula(archive, name) for name in sheets)

    def cells(self) -> Iterator[tuple[Any, ...]]:
        """The rows of the sheet, from its first one on."""
        try:
            yield from _rows_of(self.sheet, values_only=False)
        except _BROKEN as fault:
            raise TableRefused(_not_a_workbook(fault)) from fault


def _not_a_workbook(fault: Exception) -> Said:
    return say(
        "The file is not a workbook that can be read (%(fault)s): save it as .xlsx again, or export the sheet as CSV.",
        fault=str(fault),
    )


def _rows_of(sheet: Any, *, values_only: bool) -> Iterator[tuple[Any, ...]]:
    # The stated dimensions may be a lie that makes empty cells without end, so they are forgotten.
    sheet.reset_dimensions()
    return iter(sheet.iter_rows(max_col=MAX_COLUMNS, values_only=values_only))


def _holds_formula(archive: zipfile.ZipFile, name: str) -> bool:
    tail = b""
    with archive.open(name) as stream:
        while chunk := stream.read(MEGABYTE):
            window = tail + chunk
            if b"<f>" in window or b"<f " in window or b":f>" in window:
                return True
            tail = window[-4:]
    return False


def _spelled(cell: Any) -> str:
    """A typed cell as the text that a CSV would hold."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _spelled_number(float(value), str(cell.number_format))
    if isinstance(value, datetime):
        dateless_time = value.time() == time() and "h" not in str(cell.number_format).lower()
        return value.date().isoformat() if dateless_time else value.isoformat()
    if isinstance(value, date | time | timedelta):
        return str(value)
    return str(value)


def _spelled_number(value: float, number_format: str) -> str:
    if number_format.rstrip().endswith("%"):  # shown as 80 %, held as 0.8
        return f"{value * 100:.12g} %"
    return str(int(value)) if value.is_integer() else repr(value)
