"""An empty book with its owner, the shipped samples, and short ways to take text in."""

from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import openpyxl

from fleet import record
from fleet.models import Person
from service.intake import Outcome, Preview, Problem, apply, check, read_table

SAMPLES = Path(__file__).parents[2] / "templates" / "samples"
NOW = datetime(2026, 4, 2, 12, 0, tzinfo=UTC)
ORDER = (
    "sites", "places", "specs", "people", "presses", "tools", "bows", "cords", "references", "stays", "temperatures",
    "shots", "bookings", "stock", "supplier_orders",
)  # fmt: skip


def owner() -> Person:
    return Person.objects.filter(username="wren").first() or record.found_book(
        username="wren", display_name="Wren Aldous", password="correct horse staple"
    )


def take(kind: str, content: str | bytes | Path, name: str = "file.csv") -> Outcome:
    source = content.encode() if isinstance(content, str) else content
    return apply(kind, read_table(source, name), by=owner(), now=NOW)


def preview(kind: str, content: str | bytes | Path, name: str = "file.csv") -> Preview:
    source = content.encode() if isinstance(content, str) else content
    return check(kind, read_table(source, name), by=owner(), now=NOW)


def only_problem(kind: str, content: str | bytes) -> Problem:
    """The one problem of a file, which is then not written."""
    found = preview(kind, content)
    assert len(found.problems) == 1, [str(one) for one in found.problems]
    outcome = take(kind, content)
    assert not outcome.written
    assert outcome.problems == found.problems
    return found.problems[0]


def take_samples(up_to: str = ORDER[-1]) -> None:
    """The samples in order, up to and including a kind."""
    for kind in ORDER[: ORDER.index(up_to) + 1]:
        outcome = take(kind, SAMPLES / f"{kind}.csv", f"{kind}.csv")
        assert outcome.written, (kind, [str(one) for one in outcome.problems])


def workbook(rows: list[list[object]], **formats: str) -> bytes:
    """The rows as the bytes of an XLSX file; `formats` maps a cell ("B2") to its number format."""
    book = openpyxl.Workbook()
    sheet = book.active
    for row in rows:
        sheet.append(row)
    for cell, number_format in formats.items():
        sheet[cell].number_format = number_format
    out = BytesIO()
    book.save(out)
    return out.getvalue()
