"""CSV that leaves the house: texts that a spreadsheet would run as a formula are told to be text."""

import csv
from collections.abc import Iterable, Sequence
from io import StringIO
from typing import Any

# A cell that begins with one of these is run by spreadsheet programs (OWASP, "CSV Injection").
RUN_BY_SPREADSHEETS = ("=", "+", "-", "@", "\t", "\r")


def safe_cell(value: Any) -> Any:
    """The value; a text that would run gets an apostrophe before it. Numbers stay numbers, also negative ones."""
    if isinstance(value, str) and value.startswith(RUN_BY_SPREADSHEETS):
        return f"'{value}"
    return "" if value is None else value


def csv_text(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """A header line and rows, as RFC 4180 wants them."""
    out = StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([safe_cell(one) for one in head])
    writer.writerows([safe_cell(one) for one in row] for row in rows)
    return out.getvalue()
