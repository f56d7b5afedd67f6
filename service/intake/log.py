"""What a run over a file found, and the reports made of it."""

from collections import Counter
from dataclasses import dataclass, field

from service.intake.changes import Change, Status
from service.intake.problems import Problem
from service.intake.tables import Table

# Beyond these the file is of the wrong kind or unit, and more lines say nothing more; they are counted.
PROBLEMS_LISTED = 10_000
CHANGES_SHOWN = 20


@dataclass
class Log:
    """Gathers counts, the first problems and the first changes of one run."""

    counts: Counter[Status] = field(default_factory=Counter)
    problems: list[Problem] = field(default_factory=list)
    problem_count: int = 0
    shown: dict[Status, list[Change]] = field(default_factory=lambda: {Status.NEW: [], Status.CHANGED: []})

    def problem(self, found: Problem) -> None:
        """Note a bad cell."""
        self.problem_count += 1
        if len(self.problems) < PROBLEMS_LISTED:
            self.problems.append(found)

    def change(self, one: Change) -> None:
        """Note what a good row does."""
        self.counts[one.status] += 1
        if self.wants(one.status):
            self.shown[one.status].append(one)

    def take_back(self, lines: set[int]) -> None:
        """Rows that were noted as new and turned out to be bad."""
        self.counts[Status.NEW] -= len(lines)
        self.shown[Status.NEW] = [one for one in self.shown[Status.NEW] if one.line not in lines]

    def wants(self, status: Status) -> bool:
        """Whether one more change of this status is shown."""
        return status in self.shown and len(self.shown[status]) < CHANGES_SHOWN


@dataclass(frozen=True)
class Findings:
    """What was found in a file: rows by what they do, the bad cells, and the first changes, changed rows first.

    `problems` lists the first PROBLEMS_LISTED of `problem_count`, by line.
    """

    kind: str
    file_name: str
    new: int
    changed: int
    unchanged: int
    problems: tuple[Problem, ...]
    problem_count: int
    changes: tuple[Change, ...]

    @property
    def clean(self) -> bool:
        """Whether every row can be taken in."""
        return self.problem_count == 0

    @property
    def summary(self) -> str:
        """The counts in one line."""
        good = f"{self.new} new, {self.changed} changed, {self.unchanged} unchanged"
        return f"{self.file_name} ({self.kind}): {good}, {self.problem_count} bad cells."


@dataclass(frozen=True)
class Preview(Findings):
    """What taking the file in would do; nothing was written."""


@dataclass(frozen=True)
class Outcome(Findings):
    """What taking the file in did. `written` is False if any row was bad: then nothing was written at all."""

    written: bool


def findings(kind: str, table: Table, log: Log) -> Findings:
    """The report of a run."""
    return Findings(
        kind=kind,
        file_name=table.name,
        new=log.counts[Status.NEW],
        changed=log.counts[Status.CHANGED],
        unchanged=log.counts[Status.UNCHANGED],
        problems=tuple(sorted(log.problems, key=lambda one: one.line)),
        problem_count=log.problem_count,
        changes=tuple(log.shown[Status.CHANGED] + log.shown[Status.NEW]),
    )
