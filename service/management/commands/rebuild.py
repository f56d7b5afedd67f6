"""`manage.py rebuild`: drop everything computed and compute it anew from the register."""

import time
from argparse import ArgumentParser
from datetime import UTC, datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from service import decide
from service.models import StaleBow
from service.saved_checks import check_saved

SHOWN = 20


class Command(BaseCommand):
    """Rebuild wear and needs, or check that what is saved equals a rebuild."""

    help = "Compute the wear of every fitted cord and every need anew from the register."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--check", action="store_true", help="change nothing; fail if a rebuild would differ")

    def handle(self, *args: Any, **options: Any) -> None:
        now, begun = datetime.now(UTC), time.perf_counter()
        if options["check"]:
            saved = check_saved()
            cords = decide.differences()
            found = cords + saved.differing
            for line in found[:SHOWN]:
                self.stderr.write(line)
            if found:
                what = f"{len(cords)} cords" if cords else f"{len(found)} saved figures"
                raise CommandError(f"{what} differ from a rebuild: run `manage.py rebuild`.")
            waiting = StaleBow.objects.count()
            note = f" {waiting} bows wait for their refresh and were left out." if waiting else ""
            if saved.overtaken:
                note += f" {saved.overtaken} saved figures of pages are older than the last fact and were left out."
            self.stdout.write(f"What is saved equals a rebuild to 1e-9.{note}")
            return
        count = decide.rebuild(now)
        self.stdout.write(f"{count} fitted cords computed in {time.perf_counter() - begun:.2f} s.")
