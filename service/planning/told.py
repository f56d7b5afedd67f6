"""What people have been told: published jobs, issued orders, and jobs that a manager put on a day by hand."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from fleet.models import Fitting, SignedResult, Site
from service.house import INSPECTING_NEEDS, MEASURED_NEEDS
from service.models import NeedKind, OrderStatus, Plan, PlannedJob, WorkOrder
from service.plan.problem import PublishedJob
from service.planning.facts import AFTER_NEW_SET, NamedNeed

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


def told_days(site: Site, first_day: date) -> set[tuple[str, date, str]]:
    """Need, day and technician of every job that was published for a day from `first_day` on, by the latest plan."""
    return {
        (str(entry.get("id", "")), job.day, job.technician.username)
        for _plan, job in _latest_told(site, first_day)
        for entry in job.needs
    }


def _latest_told(site: Site, first_day: date) -> list[tuple[Plan, PlannedJob]]:
    """Jobs published for days from `first_day` on, of each day those of the latest plan that covers it; latest first.

    Two queries, however many plans were published.
    """
    plans = list(Plan.objects.filter(site=site).exclude(published_at=None).order_by("-published_at")[:LATEST_PLANS])
    of_plan: dict[int, list[PlannedJob]] = defaultdict(list)
    for job in PlannedJob.objects.filter(plan__in=plans, day__gte=first_day).select_related("technician"):
        of_plan[job.plan_id].append(job)
    found: list[tuple[Plan, PlannedJob]] = []
    covered: set[date] = set()
    for plan in plans:
        found += [(plan, job) for job in of_plan[plan.pk] if job.day not in covered]
        covered |= {plan.first_day + timedelta(days=n) for n in range(plan.days)}
    return found


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
    told = [(plan, job, entry) for plan, job in _latest_told(site, oldest) for entry in job.needs]
    since = _Since.of(told, needs)
    found: dict[str, tuple[date, str]] = {}
    for plan, job, entry in told:
        need = _same_need(entry, needs, plan, since)
        if need is not None:
            found.setdefault(need, (job.day, job.technician.username))
    return found


@dataclass(frozen=True)
class _Since:
    """What has happened to the bows of published jobs: fittings (id and bow) that are there still, and the kinds of
    work that the bench has signed and released, with their instants, by bow."""

    fitted: frozenset[tuple[int, int]]
    done: Mapping[int, list[tuple[datetime, frozenset[str]]]]

    @classmethod
    def of(cls, told: list[tuple[Plan, PlannedJob, dict[str, Any]]], needs: Mapping[str, NamedNeed]) -> "_Since":
        """Two queries, however many jobs were told."""
        published = [plan.published_at for plan, _job, _entry in told if plan.published_at is not None]
        if not published:
            return cls(frozenset(), {})
        fittings = [entry["fitting"] for _plan, _job, entry in told if entry.get("fitting") is not None]
        bows = {job.bow_id for _plan, job, _entry in told} & {need.bow.pk for need in needs.values()}
        there = Fitting.objects.filter(pk__in=set(fittings), removed_at=None).values_list("pk", "bow_id")
        results = SignedResult.objects.filter(bow__in=bows, signed_at__gt=min(published)).exclude(released_at=None)
        done: defaultdict[int, list[tuple[datetime, frozenset[str]]]] = defaultdict(list)
        for bow, at, work in results.values_list("bow_id", "signed_at", "work"):
            done[bow].append((at, frozenset(one["kind"] for one in work)))
        return cls(frozenset(there), done)


def _same_need(entry: Mapping[str, Any], needs: Mapping[str, NamedNeed], plan: Plan, since: _Since) -> str | None:
    """The need that a published entry means today: same bow and kind, same set, not answered since."""
    name = str(entry.get("id", ""))
    if entry.get("after_new_set") and name not in needs:
        # The set was changed meanwhile: what was foreseen is now a need of its own.
        name = name.removesuffix(AFTER_NEW_SET)
    need = needs.get(name)
    if need is None or _answered_since(need, plan, since):
        return None
    return name if _same_set(entry.get("fitting"), need, since) else None


def _same_set(told: int | None, need: NamedNeed, since: _Since) -> bool:
    """Whether the cord that the job was told for is still on the bow; another of its cords may be due first by now."""
    return told is None or need.fitting_id is None or told == need.fitting_id or (told, need.bow.pk) in since.fitted


def _answered_since(need: NamedNeed, plan: Plan, since: _Since) -> bool:
    """Whether the bench did this work after the plan was published."""
    if need.after_new_set or plan.published_at is None:
        return False
    answers = {need.kind}
    if need.kind == NeedKind.INSPECTION:
        answers = set(INSPECTING_NEEDS)
    elif need.kind == NeedKind.TIMING_CHECK:
        answers = set(MEASURED_NEEDS)
    return any(at > plan.published_at and kinds & answers for at, kinds in since.done.get(need.bow.pk, []))


def _issued(site: Site, needs: Mapping[str, NamedNeed], oldest: date) -> dict[str, tuple[date, str]]:
    """What a bow needs stays on the day of its issued order: it has one open order at a time, so it is seen then."""
    orders = WorkOrder.objects.filter(site=site, status=OrderStatus.ISSUED, day__gte=oldest).exclude(technician=None)
    told = {
        order.bow_id: (order.day, order.technician.username)
        for order in orders.select_related("technician")
        if order.technician is not None
    }
    return {name: told[need.bow.pk] for name, need in needs.items() if not need.after_new_set and need.bow.pk in told}
