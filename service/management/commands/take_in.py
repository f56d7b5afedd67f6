"""`manage.py take_in KIND FILE`: take a file of records into the book, all of it or nothing."""

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from fleet.models import Person, Site
from fleet.vocabulary import Role
from service.intake import KINDS, Findings, Outcome, Table, TableRefused, apply, check, read_table

HELP = """Take a CSV or XLSX file of records into the book: all of it, or nothing if any row is bad.

Kinds, in the order in which an empty book takes them in (each names only what came before):
{kinds}

The header names the columns, with the unit of what is measured: brace_height_in or brace_height_mm,
peak_weight_lb or peak_weight_n, temperature_c or temperature_f, twists_half_turns or twists_turns. A column that
is not known is an error. 'manage.py take_in KIND --columns' lists them; templates/samples/KIND.csv is an example.
specs: each row says in the column record what it is, cord_spec or spec_sheet; one file may mix them in any order.
Columns may be separated by commas, semicolons (then 84,5 is a number) or tabs; UTF-8, UTF-16 or Latin-1.
Times are ISO 8601, with an offset (2026-05-01T09:30+02:00) or in the time zone of the row's site. The site of a row is
its column site, else --site, else its bow's site, else the only one.
An empty cell leaves what the book has as it is. Taking the same file in twice changes nothing: records are known by
their tag, code or reference; stays by bow and begin; readings by place and time; shots and stock movements by the
column key, or without one by their content, the second of two identical lines being a second entry.
"""


class Command(BaseCommand):
    """Take a file in, or say what it would do."""

    help = HELP.format(kinds="\n".join(f"  {kind.name:<16} {kind.about}" for kind in KINDS.values()))

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        """Keep the lines of the help as they are written."""
        return super().create_parser(
            prog_name, subcommand, formatter_class=argparse.RawDescriptionHelpFormatter, **kwargs
        )

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """KIND FILE [--site CODE] [--by USERNAME] [--dry-run]."""
        parser.add_argument("kind", metavar="KIND", choices=list(KINDS), help=", ".join(KINDS))
        parser.add_argument("file", metavar="FILE", nargs="?", type=Path, help="a CSV or XLSX file")
        parser.add_argument("--site", metavar="CODE", help="the site of rows that name none, and their time zone")
        parser.add_argument("--by", metavar="USERNAME", help="the acting person; else the only owner of the book")
        parser.add_argument("--dry-run", action="store_true", help="say what would change, and write nothing")
        parser.add_argument("--columns", action="store_true", help="list the columns of this kind, and stop")

    def handle(self, *_: Any, **options: Any) -> None:
        """Exit code 1, with the list of bad cells, if any row is bad."""
        if options["columns"]:
            self._list_columns(options["kind"])
            return
        if options["file"] is None:
            raise CommandError("Name the file to take in.")
        table = _table(options["file"])
        by, site = _acting_person(options["by"]), _site(options["site"])
        found = _run(options["kind"], table, by, site, dry_run=options["dry_run"])
        self._report(found)

    def _list_columns(self, kind: str) -> None:
        for column in KINDS[kind].columns:
            needed = " (required)" if column.required else ""
            self.stdout.write(f"{' or '.join(column.headers)}{needed}: {column.about}. {column.allowed}")

    def _report(self, found: Findings) -> None:
        for problem in found.problems:
            self.stderr.write(str(problem))
        if not found.clean:
            unlisted = found.problem_count - len(found.problems)
            more = f" ({unlisted} more are not listed)" if unlisted else ""
            raise CommandError(f"{found.summary}{more} Nothing was taken in.", returncode=1)
        if not isinstance(found, Outcome):
            for change in found.changes:
                self.stdout.write(f"line {change.line}, {change.subject}: {change.status}")
                for one in change.differences:
                    self.stdout.write(f"    {one.header}: {f'{one.before} -> ' if one.before else ''}{one.after}")
        self.stdout.write(found.summary + ("" if isinstance(found, Outcome) else " Dry run: nothing was written."))


def _table(path: Path) -> Table:
    try:
        return read_table(path, path.name)
    except FileNotFoundError:
        raise CommandError(f"There is no file {path}.") from None
    except OSError as fault:
        raise CommandError(f"{path} cannot be read: {fault.strerror}.") from fault
    except TableRefused as fault:
        raise CommandError(str(fault)) from fault


def _acting_person(username: str | None) -> Person:
    if username is not None:
        person = Person.objects.filter(username=username).first()
        if person is None:
            raise CommandError(f"There is no person {username!r} in the book: name one with --by USERNAME.")
        return person
    owners = list(Person.objects.filter(posts__role=Role.OWNER, posts__site=None)[:2])
    if len(owners) == 1:
        return owners[0]
    if not owners:
        raise CommandError("The book has no owner yet: make one with 'manage.py found', then take files in.")
    raise CommandError("The book has several owners: say who takes the file in with --by USERNAME.")


def _site(code: str | None) -> Site | None:
    if code is None:
        return None
    site = Site.objects.filter(code=code).first()
    if site is None:
        known = ", ".join(Site.objects.values_list("code", flat=True)) or "none yet"
        raise CommandError(f"There is no site {code!r} in the book; it knows {known}.")
    return site


def _run(kind: str, table: Table, by: Person, site: Site | None, *, dry_run: bool) -> Findings:
    run = check if dry_run else apply
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    with bar:
        task = bar.add_task(table.name, total=table.size_hint or None)
        return run(kind, table, by=by, now=datetime.now(UTC), site=site, progress=lambda rows: bar.advance(task, rows))
