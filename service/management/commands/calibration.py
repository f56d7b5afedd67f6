"""`manage.py calibration`: did the use forecast keep its word on a site's own held-back history?"""

from argparse import ArgumentParser
from datetime import UTC, datetime
from typing import Any

from django.core.management.base import BaseCommand

from fleet.models import Site
from service.management.arguments import site_named
from service.use_ahead import calibration_of


class Command(BaseCommand):
    """Hold back 30-day windows of the past, forecast them from what was known before, and compare."""

    help = "Check the use forecast against held-back history: band coverage and mean error against last-30-days."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--site", metavar="CODE", help="only this site")

    def handle(self, *args: Any, **options: Any) -> None:
        chosen = site_named(options["site"])
        now = datetime.now(UTC)
        for site in [chosen] if chosen else Site.objects.all():
            report = calibration_of(site, now)
            told = report.account() if report else "under 60 days of history: too little to hold any back"
            self.stdout.write(f"{site}: {told}")
