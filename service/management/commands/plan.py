"""`manage.py plan`: make a site's draft plan and print it."""

import json
from argparse import ArgumentParser
from datetime import UTC, datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from service import decide, schedule
from service.management.arguments import day_named, site_named
from service.models import Plan


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
        for job in content["jobs"]:
            self.stdout.write(f"{job['day']}  {job['technician']:<20} {job['bow']:<10} {', '.join(job['needs'])}")
        for left in content["unplaced"]:
            self.stdout.write(f"not placed: {left['bow']} {left['need']}: {left['limit']}")
        if not content["jobs"] and not content["unplaced"]:
            self.stdout.write(f"Nothing is due at {site} within {options['days']} days from {first}.")


def contents_of(plan: Plan) -> dict[str, Any]:
    """A plan as plain values."""
    return {
        "site": plan.site.code,
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
            }
            for job in plan.jobs.select_related("bow", "technician")
        ],
        "unplaced": [
            {"bow": left.bow.tag, "need": left.kind, "due_on": left.due_on.isoformat(), "limit": left.limit}
            for left in plan.unplaced.select_related("bow")
        ],
    }
