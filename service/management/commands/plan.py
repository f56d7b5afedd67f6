"""`manage.py plan`: solve a site's draft plan and print it, with the reasons and how good it is known to be."""

import json
from argparse import ArgumentParser
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from service import decide, schedule
from service.management.arguments import day_named, site_named
from service.models import Plan

QUALITY = ("status", "objective", "bound", "gap", "due_date_first", "costs", "sentence")


class Command(BaseCommand):
    """Plan a site's bench."""

    help = "Put each need of a site on a day and a technician, or say what blocks it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--site", required=True, metavar="CODE")
        parser.add_argument("--from", dest="first", metavar="DATE", help="first day (YYYY-MM-DD); default: today")
        parser.add_argument("--days", type=int, default=schedule.DEFAULT_DAYS, help="7 to 90")
        parser.add_argument("--format", choices=["text", "json"], default="text")

    def handle(self, *args: Any, **options: Any) -> None:
        site = site_named(options["site"])
        if site is None:
            raise CommandError("Give the site with --site CODE.")
        now = datetime.now(UTC)
        decide.refresh_stale(now)
        first = day_named(options["first"]) if options["first"] else schedule.today_at(site, now)
        try:
            plan = schedule.draft(site, first, options["days"], now)
        except ValueError as problem:
            raise CommandError(str(problem)) from problem
        content = contents_of(plan)
        if options["format"] == "json":
            self.stdout.write(json.dumps(content, indent=1))
            return
        for line in _lines(content):
            self.stdout.write(line)


def _lines(content: dict[str, Any]) -> Iterator[str]:
    """The plan for reading: jobs and why they have their days, what moved, what has no day, how good it is."""
    for job in content["jobs"]:
        yield f"{job['day']}  {job['technician']:<20} {job['bow']:<10} {', '.join(job['needs'])}"
        for name, why in zip(job["needs"], job["reasons_for_the_day"], strict=True):
            yield f"            {name}: {why}"
    for move in content["moved"]:
        where = f"now {move['day']} with {move['technician']}" if move["day"] else "now without a day"
        yield f"moved: {move['need']} from {move['published_day']}, {where}: {move['sentence']}"
    for left in content["unplaced"]:
        yield f"not placed: {left['bow']} {left['need']}: {left['limit']}"
    for left in content["left_for_a_later_plan"]:
        yield f"left for a later plan: {left['need']}: {left['sentence']}"
    if content["jobs"] or content["unplaced"]:
        yield content["quality"]["sentence"]
    else:
        yield f"Nothing is due at {content['name']} within {content['days']} days from {content['first_day']}."


def contents_of(plan: Plan) -> dict[str, Any]:
    """A plan as plain values."""
    return {
        "site": plan.site.code,
        "name": plan.site.name,
        "currency": plan.site.currency,
        "first_day": plan.first_day.isoformat(),
        "days": plan.days,
        "jobs": [
            {
                "day": job.day.isoformat(),
                "technician": job.technician.username,
                "bow": job.bow.tag,
                "minutes": job.minutes,
                "needs": [need["kind"] for need in job.needs],
                "why": job.why,
                "reasons_for_the_day": [need["why"] for need in job.needs],
            }
            for job in plan.jobs.select_related("bow", "technician")
        ],
        "unplaced": [
            {"bow": left.bow.tag, "need": left.kind, "due_on": left.due_on.isoformat(), "limit": left.limit}
            for left in plan.unplaced.select_related("bow")
        ],
        "moved": plan.report["moved"],
        "made_pointless": plan.report["pointless"],
        "left_for_a_later_plan": plan.report["later"],
        "quality": {name: plan.report[name] for name in QUALITY},
    }
