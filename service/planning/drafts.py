"""A site's draft plan: solved, or patched when facts changed since, and saved in place of the former one.

Solving is for the command, the nightly run and the manager's page. A page that only reads the day (the bench queue)
never waits for the solver: it takes the saved draft, and where facts changed since it has it patched: every job stays
where it stands unless it must move, and what is new goes where it costs least, by due date.
"""

from dataclasses import asdict, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction

from fleet.models import Site
from service import models
from service.house import SET_UP_MINUTES
from service.plan.explain import explain
from service.plan.frame import frame_of
from service.plan.greedy import greedy_spots
from service.plan.objective import cost_of
from service.plan.outcome import Plan, Unplaced
from service.plan.problem import LONGEST_HORIZON_DAYS, PublishedJob
from service.plan.report import PlanReport
from service.plan.solve import solve
from service.plan.units import money
from service.plan.words import plan_in_words
from service.planning.bench import bench_people
from service.planning.facts import NamedNeed
from service.planning.figures import figures_of
from service.planning.kept_outlook import keep_figures
from service.planning.left_out import parted
from service.planning.made_from import made_from, still_holds
from service.planning.problem import SitePlan, site_plan
from service.planning.pure_plans import placements_of
from service.planning.told import draft_of
from service.said import say

SOLVED_ON_SIGHT_NEEDS = 150
"""A manager's page solves a stale draft of up to so many needs itself (a second or two); above, on request."""


def draft(site: Site, first_day: date, days: int, now: datetime, *, keep_by_hand: bool = True) -> models.Plan:
    """Solve a site's plan and save it in place of the former draft; jobs put by hand stay unless let go."""
    there = site_plan(site, first_day, days, now, keep_by_hand=keep_by_hand)
    report = solve(there.problem)
    return save(there, report.plan, now, _solved(report))


def current_draft(
    site: Site, first_day: date, days: int, now: datetime, *, solve_if_small: bool = False
) -> models.Plan:
    """The saved draft that reaches so far, if nothing that it was made from has changed since; else a patched one.

    `solve_if_small`: a plan of up to SOLVED_ON_SIGHT_NEEDS needs that was patched or is out of date is solved instead.
    """
    saved = draft_of(site)
    if saved is not None:
        days = min(max(days, saved.days), LONGEST_HORIZON_DAYS)
    fresh = saved is not None and still_holds(saved, first_day, days)
    if saved is not None and fresh and (saved.report.get("solved") or not solve_if_small):
        return saved
    there = site_plan(site, first_day, days, now)
    if solve_if_small and len(there.problem.needs) <= SOLVED_ON_SIGHT_NEEDS:
        report = solve(there.problem)
        return save(there, report.plan, now, _solved(report))
    plan = patched(there, saved)
    return save(there, plan, now, priced(there, plan))


def patched(there: SitePlan, saved: models.Plan | None) -> Plan:
    """The saved draft's jobs where they stand unless they must move, the rest by due date."""
    problem = there.problem
    kept = {} if saved is None else {p.need: p for p in placements_of(saved)}
    people = {person.id for person in problem.technicians}
    told = {job.need: job for job in problem.published}
    for need, place in kept.items():
        if need in problem.need_by_id and place.technician in people and place.day >= problem.days[0]:
            told.setdefault(need, PublishedJob(need, place.day, place.technician))
    spots = greedy_spots(frame_of(replace(problem, published=tuple(told.values()))))
    return plan_in_words(frame_of(problem), spots)


def _solved(report: PlanReport) -> dict[str, Any]:
    return {
        "solved": True,
        "status": str(report.status),
        "objective": report.objective,
        "bound": report.bound,
        "gap": report.gap,
        "due_date_first": report.first_plan_objective,
        "costs": report.costs,
        "held_left_out": report.held_left_out,
        "days_moved": report.days_moved,
        "precedence_proven": report.precedence_proven,
        "sentence": report.sentence,
    }


def priced(there: SitePlan, plan: Plan) -> dict[str, Any]:
    """The report of a plan that was not solved: its cost, and that nothing is known of how good it is."""
    frame = frame_of(there.problem)
    spots = {
        frame.number[p.need]: (frame.problem.day_number(p.day), _person(there, p.technician)) for p in plan.placements
    }
    costs = cost_of(frame, spots)
    cost = money(there.problem, costs.total)
    sentence = say("Patched, not solved: it costs %(cost)s; how much a better plan would save is not known.", cost=cost)
    return {
        "solved": False,
        "status": "patched",
        "objective": sum(costs.in_money().values()),
        "bound": None,
        "gap": None,
        "costs": costs.in_money(),
        "sentence": sentence,
    }


def _person(there: SitePlan, name: str) -> int:
    return sorted(person.id for person in there.problem.technicians).index(name)


@transaction.atomic
def save(
    there: SitePlan,
    plan: Plan,
    now: datetime,
    report: dict[str, Any],
    hand: dict[str, list[str]] | None = None,
) -> models.Plan:
    """Save a plan as the site's draft, in place of the former one; jobs put by hand are carried over."""
    site, problem = there.site, there.problem
    models.Plan.objects.filter(site=site, published_at=None).delete()
    later, unplaced = parted(there, plan.unplaced)
    saved = models.Plan.objects.create(
        site=site,
        first_day=problem.days[0],
        days=len(problem.days),
        made_at=now,
        report={
            **report,
            "placed": len(plan.placements),
            "unplaced": len(unplaced),
            "cancelled": len(plan.cancelled),
            **made_from(site, problem.days[0], len(problem.days)),
            "by_hand": dict(there.hand if hand is None else hand),
            "moved": [_plain(asdict(one)) for one in plan.moved],
            "pointless": [_plain(asdict(one)) for one in plan.cancelled],
            "later": [{"need": one.need, "sentence": one.sentence} for one in later],
        },
    )
    _save_jobs(there, saved, plan)
    models.UnplacedNeed.objects.bulk_create(_unplaced_row(saved, there.needs[one.need], one) for one in unplaced)
    keep_figures(saved, figures_of(there, plan))
    return saved


def _plain(record: dict[str, Any]) -> dict[str, Any]:
    return {key: value.isoformat() if isinstance(value, date) else value for key, value in record.items()}


def _unplaced_row(saved: models.Plan, need: NamedNeed, one: Unplaced) -> models.UnplacedNeed:
    return models.UnplacedNeed(plan=saved, bow=need.bow, kind=need.kind, due_on=need.due_on, limit=one.sentence)


def _save_jobs(there: SitePlan, saved: models.Plan, plan: Plan) -> None:
    """One job per bow, day and technician, in the order of work, each need with the reason for its day."""
    why = {one.need: one.sentence for one in explain(there.problem, plan)}
    people = {person.username: person for person in bench_people(there.site)}
    visits: dict[tuple[date, str, int], list[NamedNeed]] = {}
    for place in plan.placements:
        need = there.needs[place.need]
        visits.setdefault((place.day, place.technician, need.bow.pk), []).append(need)
    in_day: dict[tuple[date, str], int] = {}
    rows = []
    for (day, technician, _bow), together in sorted(visits.items(), key=lambda one: _order_of_work(*one)):
        place_in_day = in_day[day, technician] = in_day.get((day, technician), 0) + 1
        rows.append(
            models.PlannedJob(
                plan=saved,
                bow=together[0].bow,
                day=day,
                technician=people[technician],
                place_in_day=place_in_day,
                minutes=SET_UP_MINUTES + sum(need.minutes for need in together),
                needs=[{**need.as_saved(), "why": why[need.id]} for need in together],
                why=f"due on {min(need.due_on for need in together)}",
            )
        )
    models.PlannedJob.objects.bulk_create(rows)


def _order_of_work(visit: tuple[date, str, int], together: list[NamedNeed]) -> tuple[date, str, bool, date, str]:
    """Held bows first, then by due date, then by tag."""
    held = any(need.holds for need in together)
    return visit[0], visit[1], not held, min(need.due_on for need in together), together[0].bow.tag


def last_day_of(plan: models.Plan) -> date:
    """The last day that a plan covers."""
    return plan.first_day + timedelta(days=plan.days - 1)
