"""`manage.py queue`: issue a day's orders and print them as one PDF."""

from argparse import ArgumentParser
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from service.management.arguments import day_named, person_named, site_named
from service.orders.issue import issue_day
from service.orders.paper import cover_of, sheet_of
from service.printing.pdf import render_queue


class Command(BaseCommand):
    """Print the day's queue."""

    help = "Issue the orders planned on a day at a site, and print the cover list and one sheet per order."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--date", required=True, metavar="DATE", help="the day (YYYY-MM-DD)")
        parser.add_argument("--site", required=True, metavar="CODE")
        parser.add_argument("--out", required=True, metavar="FILE.pdf", type=Path)
        parser.add_argument("--paper", choices=["letter", "a4"], help="default: the site's paper")
        parser.add_argument("--by", metavar="USERNAME", help="who issues the orders; default: the first owner")

    def handle(self, *args: Any, **options: Any) -> None:
        site, day = site_named(options["site"]), day_named(options["date"])
        if site is None:
            raise CommandError("Give the site with --site CODE.")
        folder = options["out"].resolve().parent
        if not folder.is_dir():
            raise CommandError(f"There is no folder {folder}: make it first, or name another with --out.")
        now = datetime.now(UTC)
        try:
            orders = issue_day(site, day, by=person_named(options["by"]), now=now)
        except ValueError as problem:
            raise CommandError(str(problem)) from problem
        pdf = render_queue(
            cover_of(site, day, orders, now), [sheet_of(order) for order in orders], options["paper"] or site.paper
        )
        options["out"].write_bytes(pdf)
        self.stdout.write(f"{len(orders)} orders on {day} at {site}: {options['out']} ({len(pdf) / 1024:.0f} KB)")
