"""A file as a table: its header, and its rows streamed as text with the line on which each begins."""

import io
from collections.abc import Generator, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Literal

from django.conf import settings

from service.intake.csv_text import CsvForm, csv_lines, csv_rows, sniff
from service.intake.problems import TableRefused
from service.intake.workbook import sheet_rows
from service.said import figure, mark, say

ZIP_MAGIC = b"PK\x03\x04"
OTHER_FORMATS = {
    b"\xd0\xcf\x11\xe0": mark("a workbook in the old binary format: save it as .xlsx or CSV"),
    b"%PDF": mark("a PDF: export the table itself as CSV or .xlsx"),
    b"\x89PNG": mark("a picture: export the table itself as CSV or .xlsx"),
    b"\xff\xd8\xff": mark("a picture: export the table itself as CSV or .xlsx"),
    b"\x1f\x8b": mark("a compressed file: unpack it first"),
}
MEGABYTE = 1024 * 1024


@dataclass(frozen=True)
class Table:
    """A table that can be read again and again; nothing but its header is held in memory.

    `decimal_comma`: numbers may be written 84,5 (the columns are separated by semicolons). `header_line` is the
    line of the file on which the header stands. `size_hint` is about how many rows there are (0 = not known).
    """

    name: str
    source: bytes | Path
    form: Literal["csv", "xlsx"]
    header: tuple[str, ...]
    header_line: int
    size_hint: int
    decimal_comma: bool = False
    csv_form: CsvForm | None = None

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """(line, cells) of every row below the header that is not blank. Raises TableRefused on broken files."""
        with closing(_lines(self.source, self.form, self.csv_form)) as lines:
            for line, cells in lines:
                if line > self.header_line and any(cells):
                    yield line, cells


def read_table(source: bytes | Path, name: str) -> Table:
    """Open CSV or XLSX (told apart by content, not by `name`). Raises TableRefused with the reason and the fix."""
    size = len(source) if isinstance(source, bytes) else source.stat().st_size
    if size == 0:
        raise TableRefused(say("%(name)s is empty: export the table again, with its header line.", name=name))
    if size > settings.UPLOAD_MAX_BYTES:
        raise TableRefused(
            say(
                "%(name)s has %(size)s MB, and at most %(most)s MB are taken: split it into several files "
                "(each with the header line), or raise BRACEBOOK_UPLOAD_MAX_BYTES.",
                name=name,
                size=figure(size / MEGABYTE, ".1f"),
                most=figure(settings.UPLOAD_MAX_BYTES / MEGABYTE, ".1f"),
            )
        )
    with opened(source) as stream:
        magic = stream.read(4)
    for start, what in OTHER_FORMATS.items():
        if magic.startswith(start):
            raise TableRefused(say("%(name)s is %(what)s.", name=name, what=say(what)))
    if magic == ZIP_MAGIC:
        return _with_header(name, source, "xlsx", None)
    with opened(source) as stream:
        form = sniff(stream, name)
    return _with_header(name, source, "csv", form)


def _with_header(name: str, source: bytes | Path, form: Literal["csv", "xlsx"], csv_form: CsvForm | None) -> Table:
    header: tuple[str, ...] = ()
    header_line = 0
    has_rows = False
    with closing(_lines(source, form, csv_form)) as lines:
        for line, cells in lines:
            if not any(cells):
                continue
            if header:
                has_rows = True
                break
            header, header_line = tuple(cells), line
    if not header:
        raise TableRefused(say("%(name)s holds no text: export the table again, with its header line.", name=name))
    if not has_rows:
        raise TableRefused(
            say("%(name)s has a header line but no row below it: there is nothing to take in.", name=name)
        )
    hint = 0
    if csv_form is not None:
        with opened(source) as stream:
            hint = csv_lines(stream)
    decimal_comma = csv_form is not None and csv_form.delimiter == ";"
    return Table(name, source, form, header, header_line, hint, decimal_comma, csv_form)


def _lines(
    source: bytes | Path, form: Literal["csv", "xlsx"], csv_form: CsvForm | None
) -> Generator[tuple[int, list[str]], None, None]:
    if csv_form is None:
        yield from sheet_rows(source)
        return
    with opened(source) as stream:
        yield from csv_rows(stream, csv_form)


def opened(source: bytes | Path) -> BinaryIO:
    """The bytes of a source as a stream that the caller closes."""
    return io.BytesIO(source) if isinstance(source, bytes) else source.open("rb")
