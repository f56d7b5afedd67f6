"""`manage.py due`: every fitted cord, what has worn it, and when it is to be replaced."""

import csv
import json
import sys
from argparse import ArgumentParser
from datetime import UTC, datetime
from typing import IO, Any, cast

from django.core.management.base import BaseCommand, CommandError
from rich.console import Console
from rich.table import Table

from fleet.models import Site
from service import decide
from service.bow_facts import drift_told
from service.due_list import DueRow, row_of, wears_in_order
from service.explain import account_of
from service.export import safe
from service.instants import day_of, end_of
from service.management.arguments import day_named, site_named
from service.timing_due import bows_in_order, timings_of, without_drift

HEADS = {
    "tag": "tag",
    "position": "position",
    "cord_spec": "cord spec",
    "life_used": "life used",
    "shots": "shots",
    "time": "time",
    "heat": "heat",
    "replace_from": "10 %",
    "replace_on": "replace on",
    "replace_until": "90 %",
    "basis": "how the date is known",
}
TABLE_WIDTH = 180


class Command(BaseCommand):
    """The due list on the command line."""

    help = "Print every fitted cord with life used, its shares of shots, time and heat, and its replacement date."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--on", metavar="DATE", help="as of the end of this day (YYYY-MM-DD); default: now")
        parser.add_argument("--site", metavar="CODE", help="only this site")
        parser.add_argument(
            "--explain", metavar="TAG", help="the whole account of one bow's cords, from events to dates"
        )
        parser.add_argument(
            "--timing", action="store_true", help="the predicted timing checks instead, the soonest first"
        )
        parser.add_argument("--format", choices=["table", "json", "csv"], default="table")

    def handle(self, *args: Any, **options: Any) -> None:
        site = site_named(options["site"])
        if options["explain"]:
            self._explain(options["explain"])
            return
        if options["timing"]:
            self._timing([site] if site else list(Site.objects.order_by("code")))
            return
        if options["on"]:
            day = day_named(options["on"])
            instant = end_of(day, site.time_zone if site else "UTC")
            rows = [row_of(wear) for wear in decide.as_of(instant, site)]
        else:
            decide.refresh_stale(datetime.now(UTC))
            rows = [row_of(wear) for wear in wears_in_order(site)]
        {"table": self._table, "json": self._json, "csv": self._csv}[options["format"]](rows)

    def _explain(self, tag: str) -> None:
        decide.refresh_stale(datetime.now(UTC))
        wears = wears_in_order().filter(fitting__bow__tag=tag)
        if not wears:
            raise CommandError(
                f"There is no bow {tag!r} with fitted cords: see `manage.py due` for those that there are."
            )
        for wear in wears:
            for paragraph in account_of(wear):
                self.stdout.write(paragraph.title)
                for line in paragraph.lines:
                    self.stdout.write(f"    {line}")
            self.stdout.write("")

    def _timing(self, sites: list[Site]) -> None:
        now = datetime.now(UTC)
        decide.refresh_stale(now)
        for site in sites:
            for timing in timings_of(list(bows_in_order(site)), day_of(now, site.time_zone)):
                self.stdout.write(f"{site.code} {timing.bow.tag}: {drift_told(timing.first)}")
            for bow in without_drift(site):
                self.stdout.write(
                    f"{site.code} {bow.tag}: not predicted: no reference lengths with a tolerance, or no cords"
                )

    def _table(self, rows: list[DueRow]) -> None:
        table = Table(*HEADS.values(), show_lines=False)
        for row in rows:
            table.add_row(*(self._cell(getattr(row, name)) for name in HEADS))
        console = Console(file=cast("IO[str]", self.stdout), width=TABLE_WIDTH if not sys.stdout.isatty() else None)
        console.print(table)
        console.print(
            f"{len(rows)} fitted cords. Life used is a share of rated life, by which 1 in 10 is expected to be "
            "condemned; replace on is the 50 % date of the use forecast, between its 10 % and 90 % dates."
        )

    @staticmethod
    def _cell(value: Any) -> str:
        if isinstance(value, float):
            return f"{value:.2f}"
        return "" if value is None else str(value)

    def _json(self, rows: list[DueRow]) -> None:
        self.stdout.write(json.dumps([row.as_record() for row in rows], indent=1))

    def _csv(self, rows: list[DueRow]) -> None:
        writer = csv.DictWriter(self.stdout, fieldnames=list(DueRow.__dataclass_fields__), lineterminator="\n")
        writer.writeheader()
        for row in rows:
            writer.writerow({name: safe(value) for name, value in row.as_record().items()})
