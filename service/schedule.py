"""A site's plan, for everybody else: the days at its bench, the draft, who is there. The work is in `planning`.

`draft` solves (`manage.py plan`, the nightly run, "plan anew"); `current_draft` takes what is saved, and patches it
where facts changed since, so that a page that only shows a day never waits for the solver.
"""

from datetime import date, datetime

from fleet.models import Site
from service.instants import day_of
from service.plan.problem import PlanProblem
from service.planning.bench import bench_people, minutes_on
from service.planning.drafts import current_draft, draft
from service.planning.problem import site_plan

__all__ = ["DEFAULT_DAYS", "bench_people", "current_draft", "draft", "minutes_on", "problem_of", "today_at"]

DEFAULT_DAYS = 28


def today_at(site: Site, now: datetime) -> date:
    """The calendar day at a site."""
    return day_of(now, site.time_zone)


def problem_of(site: Site, first_day: date, days: int, now: datetime) -> PlanProblem:
    """The plan's problem of a site: its open needs, people, presses, bookings and parts."""
    return site_plan(site, first_day, days, now).problem
