"""Taking files in: read a table, check it against the book, preview what it changes, apply it.

table = read_table(Path("bows.csv"), "bows.csv")      # or the bytes of an upload
preview = check("bows", table, by=person, now=now)     # writes nothing
if preview.clean:
    outcome = apply("bows", table, by=person, now=now)  # all of it or nothing
"""

from service.intake.changes import Change, Difference, Status
from service.intake.kind import AnyKind
from service.intake.kinds import KINDS
from service.intake.log import Findings, Outcome, Preview
from service.intake.problems import Problem, TableRefused
from service.intake.tables import Table, read_table
from service.intake.taking import apply, check

__all__ = [
    "KINDS",
    "AnyKind",
    "Change",
    "Difference",
    "Findings",
    "Outcome",
    "Preview",
    "Problem",
    "Status",
    "Table",
    "TableRefused",
    "apply",
    "check",
    "read_table",
]
