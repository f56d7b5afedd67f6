"""Take a table in: check it (nothing written) or apply it (one transaction; all of it or nothing).

A kind whose rows are few is checked by rehearsal: its verbs run in a transaction that is rolled back, so the preview
shows exactly what applying does. A streamed kind is checked against the book without writing.
"""

from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any

from django.db import transaction

from fleet.models import Person, Site
from fleet.refusal import Refused
from service.intake.changes import Change, Status, compare
from service.intake.columns import Layout, match
from service.intake.desk import Desk
from service.intake.kind import AnyKind, Kind, Sifted, StreamedKind
from service.intake.kinds import KINDS
from service.intake.log import Findings, Log, Outcome, Preview, findings
from service.intake.problems import CellError, Problem, TableRefused
from service.intake.rows import Row, read_rows
from service.intake.tables import Table
from service.said import say

MAX_ROWS_ONE_BY_ONE = 20_000
CHUNK_ROWS = 2_000
Progress = Callable[[int], None]


class _TakenBack(Exception):
    """Ends a transaction whose work is not kept."""


def check(
    kind: str, table: Table, *, by: Person, now: datetime, site: Site | None = None, progress: Progress | None = None
) -> Preview:
    """What taking the table in would do. `site` is meant where a row names none; `now` is aware.

    `progress` is called with the number of rows done since the last call. Raises TableRefused for an unknown kind.
    """
    return Preview(**_fields(_run(kind, table, Desk(by, now, site, table.decimal_comma), progress, keep=False)))


def apply(
    kind: str, table: Table, *, by: Person, now: datetime, site: Site | None = None, progress: Progress | None = None
) -> Outcome:
    """Take the table in, all of it or (if any row is bad) nothing; arguments as for `check`."""
    found = _run(kind, table, Desk(by, now, site, table.decimal_comma), progress, keep=True)
    return Outcome(**_fields(found), written=found.clean)


def _fields(found: Findings) -> dict[str, Any]:
    return {name: getattr(found, name) for name in Findings.__dataclass_fields__}


def _run(kind_name: str, table: Table, desk: Desk, progress: Progress | None, *, keep: bool) -> Findings:
    kind = kind_of(kind_name)
    log = Log()
    layout, header_problems = match(table, kind.columns)
    for problem in header_problems:
        log.problem(problem)
    if log.problem_count == 0:
        try:
            _take(kind, table, layout, desk, log, progress, keep)
        except TableRefused as fault:
            log.problem(Problem(0, "", "", str(fault).rstrip("."), "", ""))
        except Refused as refusal:
            # A bulk verb saw what the check before it did not: somebody else wrote in between.
            log.problem(Problem(0, "", "", str(refusal).rstrip("."), "", "take the file in again"))
        except _TakenBack:
            pass
    return findings(kind_name, table, log)


def kind_of(name: str) -> AnyKind:
    """The kind of this name, or TableRefused naming them all."""
    if name not in KINDS:
        raise TableRefused(
            say("There is no kind of file %(name)r: it is one of %(kinds)s.", name=name, kinds=", ".join(KINDS))
        )
    return KINDS[name]


def _take(
    kind: AnyKind, table: Table, layout: Layout, desk: Desk, log: Log, progress: Progress | None, keep: bool
) -> None:
    if isinstance(kind, StreamedKind):
        fresh = _fresh(kind, table, layout, desk, log, progress)
        if not keep:
            for _ in fresh:
                pass
            return
        with transaction.atomic():
            kind.write(desk, fresh, table.name)
            if log.problem_count:
                raise _TakenBack
        return
    rows = _all_rows(kind, table, layout, desk, log)
    with transaction.atomic():
        for row in rows:
            _take_one(kind, row, desk, log)
            if progress is not None:
                progress(1)
        if log.problem_count or not keep:
            raise _TakenBack


# --- one by one -----------------------------------------------------------------------------------


def _all_rows(kind: Kind, table: Table, layout: Layout, desk: Desk, log: Log) -> list[Row]:
    rows: list[Row] = []
    for number, row in enumerate(read_rows(table, layout, desk, log.problem), start=1):
        if number > MAX_ROWS_ONE_BY_ONE:
            raise TableRefused(
                say(
                    "%(name)s has more than %(most)d rows of %(kind)s: split it into several files.",
                    name=table.name,
                    most=MAX_ROWS_ONE_BY_ONE,
                    kind=kind.name,
                )
            )
        if row is not None:
            rows.append(row)
    if kind.prepare is not None:
        kind.prepare(rows, desk)
    rows = _each_once(kind, rows, desk, log)
    if kind.order is not None:
        rows.sort(key=kind.order)
    return rows


def _each_once(kind: Kind, rows: list[Row], desk: Desk, log: Log) -> list[Row]:
    """The rows without those that repeat the record of an earlier line."""
    first: dict[tuple[Any, ...], int] = {}
    kept = []
    for row in rows:
        who = tuple(desk.site_named(row.values) if field == "site" else row.get(field) for field in kind.identity)
        line = first.setdefault(who, row.line)
        if line == row.line:
            kept.append(row)
            continue
        fault = CellError(
            say("line %(line)s gives the same %(identity)s", line=line, identity=" and ".join(kind.identity)),
            allowed=say("each record once in a file"),
            fix=say("take one of the lines out"),
            column=kind.identity[-1] if kind.identity[-1] in row.values else kind.identity[0],
        )
        log.problem(row.problem(fault))
    return kept


def _take_one(kind: Kind, row: Row, desk: Desk, log: Log) -> None:
    try:
        with transaction.atomic():
            log.change(kind.take(row, desk))
    except CellError as fault:
        log.problem(row.problem(fault))
    except Refused as refusal:
        log.problem(Problem(row.line, "", "", str(refusal).rstrip("."), "", ""))


# --- as a stream ----------------------------------------------------------------------------------


def _fresh(
    kind: StreamedKind, table: Table, layout: Layout, desk: Desk, log: Log, progress: Progress | None
) -> Iterator[Any]:
    """What the bulk verb is to write. After a bad row nothing more comes, but all rows are still read and checked."""
    sieve = kind.sieve(desk, log.problem)
    for rows, count in _chunks(table, layout, desk, log):
        for one in sieve.sift(rows):
            _note(one, log)
            if one.entry is not None and log.problem_count == 0:
                yield one.entry
        if progress is not None:
            progress(count)
    log.take_back(sieve.finish())


def _note(one: Sifted, log: Log) -> None:
    if one.status is Status.NEW and log.wants(Status.NEW):
        log.change(compare(one.row, one.subject, None, aside=("site",)))
    elif log.wants(one.status):
        log.change(Change(one.row.line, one.subject, one.status, one.differences))
    else:
        log.counts[one.status] += 1


def _chunks(table: Table, layout: Layout, desk: Desk, log: Log) -> Iterator[tuple[list[Row], int]]:
    """Good rows by the chunk, each with how many rows were read for it."""
    chunk: list[Row] = []
    count = 0
    for row in read_rows(table, layout, desk, log.problem):
        count += 1
        if row is not None:
            chunk.append(row)
        if count == CHUNK_ROWS:
            yield chunk, count
            chunk, count = [], 0
    if count:
        yield chunk, count
