"""`manage.py demo`: the demo shop into an empty book."""

import time
from argparse import ArgumentParser
from datetime import UTC, datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils.dateparse import parse_datetime

from fleet.record import Refused
from service import decide
from service.demo.load import load
from service.demo.worked_cases import put_worked_cases


class Command(BaseCommand):
    """Write the demo shop's facts; five orders are in work. Then what follows from them is learned and computed."""

    help = "Load the demo shop (an invented range and camp, 60 bows, a season of use) into an empty book."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--now", help="the instant on which the season ends, e.g. 2026-07-01T15:00+00:00 (now if not given)"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        begun = time.perf_counter()
        try:
            now = _instant(options["now"])
            with transaction.atomic():
                bows = load(now)
                put_worked_cases(now)
                # As a night would: before anything is learned, dates would rest on assumed use.
                decide.rebuild(datetime.now(UTC))
        except Refused as problem:
            raise CommandError(str(problem)) from problem
        self.stdout.write(f"The demo shop is in the book: {bows} bows, in {time.perf_counter() - begun:.1f} s.")


def _instant(text: str | None) -> datetime:
    if text is None:
        return datetime.now(UTC)
    try:
        moment = parse_datetime(text)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise CommandError(
            f"--now {text!r} is not an instant: give day, time and zone, for example 2026-07-01T15:00+00:00"
        )
    return moment.astimezone(UTC)
