"""How a file is told what is wrong with it: one `Problem` a cell, or a `TableRefused` for a file that is no table."""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

from service.said import worded

VALUE_SHOWN = 60


class TableRefused(ValueError):
    """The file cannot be read as a table at all; the text tells the reader, in their language, why and what to do."""

    def __init__(self, told: str) -> None:
        super().__init__(worded(told))


class CellError(ValueError):
    """What is wrong with one cell: why, what is allowed (with its unit) and how to mend it.

    `column` names another field of the row when the fault was seen from elsewhere.
    """

    def __init__(self, why: str, *, allowed: str, fix: str, column: str = "") -> None:
        super().__init__(f"{why}; allowed: {allowed}; {fix}")
        self.why = why
        self.allowed = allowed
        self.fix = fix
        self.column = column


@dataclass(frozen=True, slots=True)
class Problem:
    """A bad cell. `line` is the line of the file (row of the sheet) where the row begins; 0 = the whole file."""

    line: int
    column: str
    value: str
    why: str
    allowed: str
    fix: str

    def __str__(self) -> str:
        where = f"line {self.line}" if self.line else "the file"
        if self.column:
            where += f", {self.column}"
        if self.value:
            where += f" = {shortened(self.value)!r}"
        allowed = f" Allowed: {self.allowed}." if self.allowed else ""
        fix = f" Fix: {self.fix}." if self.fix else ""
        return f"{where}: {self.why}.{allowed}{fix}"


def shortened(text: str) -> str:
    """A value as an error shows it: never a screenful."""
    return text if len(text) <= VALUE_SHOWN else text[: VALUE_SHOWN - 1] + "…"


def nearest(text: str, known: Iterable[str]) -> str | None:
    """The known word that a slip of the keyboard most likely meant."""
    close = difflib.get_close_matches(text[:VALUE_SHOWN], list(known), n=1, cutoff=0.6)
    return close[0] if close else None
