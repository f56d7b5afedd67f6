"""What people have been told: published jobs, issued orders, and jobs that a manager put on a day by hand."""

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from typing import Any

from fleet.models import Fitting, SignedResult, Site
from service.house import INSPECTING_NEEDS, MEASURED_NEEDS
from service.models import NeedKind, OrderStatus, Plan, WorkOrder
from service.plan.problem import PublishedJob
from service.planning.facts import NamedNeed

# A job told for a day so long ago that was never done is no longer anybody's expectation.
FORGOTTEN_AFTER_DAYS = 14
# Plans reach 90 days at most: what is older than so many publications has nothing left to say of the days ahead.
LATEST_PLANS = 60


def draft_of(site: Site) -> Plan | None:
    """The site's draft, however old."""
    return Plan.objects.filter(site=site, published_at=None).first()


def by_hand(draft: Plan | None) -> dict[str, list[str]]:
    """Jobs of a draft that a manager put where they are: need -> day, technician's user name, number of who did it."""
    return dict(draft.report.get("by_hand", {})) if draft is not None else {}


def told_days(site: Site) -> set[tuple[str, date, str]]:
    """Need, day and technician of every job that was published for a day, by the latest plan for it."""
    found: set[tuple[str, date, str]] = set()
    for plan, covered in _latest_first(site):
        for job in plan.jobs.exclude(day__in=covered).select_related("technician"):
            found |= {(str(entry.get("id", "")), job.day, job.technician.username) for entry in job.needs}
    return found


def _latest_first(site: Site) -> Iterator[tuple[Plan, set[date]]]:
    """Published plans, the latest first, each with the days that later ones cover."""
    covered: set[date] = set()
    for plan in Plan.objects.filter(site=site).exclude(published_at=None).order_by("-published_at")[:LATEST_PLANS]:
        yield plan, covered
        covered = covered | {plan.first_day + timedelta(days=n) for n in range(plan.days)}


def told_jobs(
    site: Site, needs: Mapping[str, NamedNeed], first_day: date, people: set[str], hand: Mapping[str, list[str]]
) -> tuple[PublishedJob, ...]:
    """Where each need stands by what was told: put by hand before ordered before published."""
    oldest = first_day - timedelta(days=FORGOTTEN_AFTER_DAYS)
    found = {**_published(site, needs, oldest), **_issued(site, needs, oldest)}
    found.update({need: (date.fromisoformat(day), who) for need, (day, who, _by) in hand.items() if need in needs})
    return tuple(PublishedJob(need, day, who) for need, (day, who) in sorted(found.items()) if who in people)


def _published(site: Site, needs: Mapping[str, NamedNeed], oldest: date) -> dict[str, tuple[date, str]]:
    """Of each day the latest plan published for it counts; a need answered since is a new one and was never told."""
    found: dict[str, tuple[date, str]] = {}
    for plan, covered in _latest_first(site):
        for job in plan.jobs.filter(day__gte=oldest).exclude(day__in=covered).select_related("technician"):
            for entry in job.needs:
                need = _same_need(entry, needs, plan)
                if need is not None:
                    found.setdefault(need, (job.day, job.technician.username))
    return found


def _same_need(entry: Mapping[str, Any], needs: Mapping[str, NamedNeed], plan: Plan) -> str | None:
    """The need that a published entry means today: same bow and kind, same set, not answered since."""
    name = str(entry.get("id", ""))
    if entry.get("after_new_set") and name not in needs:
        # The set was changed meanwhile: what was foreseen is now a need of its own.
        name = name.removesuffix(" after the new set")
    need = needs.get(name)
    if need is None or _answered_since(need, plan):
        return None
    return name if _same_set(entry.get("fitting"), need) else None


def _same_set(told: int | None, need: NamedNeed) -> bool:
    """Whether the cord that the job was told for is still on the bow; another of its cords may be due first by now."""
    if told is None or need.fitting_id is None or told == need.fitting_id:
        return True
    return Fitting.objects.filter(pk=told, bow=need.bow, removed_at=None).exists()


def _answered_since(need: NamedNeed, plan: Plan) -> bool:
    """Whether the bench did this work after the plan was published."""
    if need.after_new_set or plan.published_at is None:
        return False
    answers = {need.kind}
    if need.kind == NeedKind.INSPECTION:
        answers = set(INSPECTING_NEEDS)
    elif need.kind == NeedKind.TIMING_CHECK:
        answers = set(MEASURED_NEEDS)
    results = SignedResult.objects.filter(bow=need.bow, signed_at__gt=plan.published_at).exclude(released_at=None)
    return any(work["kind"] in answers for result in results for work in result.work)


def _issued(site: Site, needs: Mapping[str, NamedNeed], oldest: date) -> dict[str, tuple[date, str]]:
    """What a bow needs stays on the day of its issued order: it has one open order at a time, so it is seen then."""
    orders = WorkOrder.objects.filter(site=site, status=OrderStatus.ISSUED, day__gte=oldest).exclude(technician=None)
    told = {
        order.bow_id: (order.day, order.technician.username)
        for order in orders.select_related("technician")
        if order.technician is not None
    }
    return {name: told[need.bow.pk] for name, need in needs.items() if not need.after_new_set and need.bow.pk in told}
