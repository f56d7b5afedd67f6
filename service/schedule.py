"""Needs of a site -> the plan's problem -> a saved draft plan. The solving itself is `service.plan`."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Max

from fleet import lookups
from fleet.models import AuditEntry, Booking, CordSpec, Person, Site, SupplierOrder
from service import models
from service.house import SET_UP_MINUTES
from service.instants import day_of, end_of, start_of
from service.plan import costs
from service.plan.greedy import first_plan
from service.plan.outcome import Plan
from service.plan.problem import (
    LONGEST_HORIZON_DAYS,
    SHORTEST_HORIZON_DAYS,
    Arrival,
    Need,
    NeedKind,
    PartStock,
    PartUse,
    PlanProblem,
    PublishedJob,
    Technician,
)
from service.plan.problem import (
    Booking as BowAway,
)

DEFAULT_DAYS = 28
PRESS_VISIT_MINUTES = 60
# A late routine check loses the rental day only once the bow is held; until then the house prefers it done soon.
LATE_SHARE = 1.0
EARLY_SHARE = 0.02

PLAN_KINDS: dict[str, NeedKind] = {
    models.NeedKind.TIMING_CHECK: NeedKind.TIMING_CHECK,
    models.NeedKind.INSPECTION: NeedKind.INSPECTION,
    models.NeedKind.REPLACEMENT: NeedKind.REPLACEMENT,
    models.NeedKind.SETTLE_IN: NeedKind.SETTLE_IN,
    models.NeedKind.INCIDENT: NeedKind.INCIDENT,
    models.NeedKind.NOTICE: NeedKind.NOTICE,
    models.NeedKind.TURNAROUND: NeedKind.TURNAROUND,
    models.NeedKind.REQUESTED: NeedKind.REQUESTED,
}
# A changed set, or a bow gone through after an incident, makes these pointless.
CANCELS: dict[str, tuple[str, ...]] = {
    models.NeedKind.REPLACEMENT: (
        models.NeedKind.TIMING_CHECK,
        models.NeedKind.INSPECTION,
        models.NeedKind.SETTLE_IN,
    ),
    models.NeedKind.INCIDENT: (models.NeedKind.TIMING_CHECK, models.NeedKind.INSPECTION),
}


def today_at(site: Site, now: datetime) -> date:
    """The calendar day at a site."""
    return day_of(now, site.time_zone)


def current_draft(site: Site, first_day: date, days: int, now: datetime) -> models.Plan:
    """The saved draft, if nothing that it was made from has changed since; else a new one."""
    stamp = _stamp(first_day, days)
    saved = models.Plan.objects.filter(site=site, published_at=None, report__stamp=stamp).first()
    return saved or draft(site, first_day, days, now)


def _stamp(first_day: date, days: int) -> str:
    """What a draft was made from: the days, the last fact, the last wear computed and the last order."""
    fact = AuditEntry.objects.aggregate(last=Max("pk"))["last"]
    wear = models.CordWear.objects.aggregate(last=Max("as_of"))["last"]
    order = models.WorkOrder.objects.aggregate(last=Max("pk"))["last"]
    states = models.WorkOrder.objects.aggregate(last=Max("started_at"), closed=Max("closed_at"))
    return f"{first_day} {days} {fact} {wear} {order} {states['last']} {states['closed']}"


def draft(site: Site, first_day: date, days: int, now: datetime) -> models.Plan:
    """Make a draft plan of a site by due date and save it in place of the former draft."""
    problem = problem_of(site, first_day, days, now)
    return _save(site, problem, first_plan(problem), now)


def problem_of(site: Site, first_day: date, days: int, now: datetime) -> PlanProblem:
    """The plan's problem of a site: its open needs, people, presses, bookings and parts."""
    if not SHORTEST_HORIZON_DAYS <= days <= LONGEST_HORIZON_DAYS:
        raise ValueError(
            f"a plan of {days} days; allowed are {SHORTEST_HORIZON_DAYS} to {LONGEST_HORIZON_DAYS} days: give another "
            "number, or a later first day"
        )
    horizon = tuple(first_day + timedelta(days=i) for i in range(days))
    needs = _open_needs(site, horizon[-1])
    closed = _closed_days(site, horizon)
    return PlanProblem(
        site=site.code,
        currency=site.currency,
        days=horizon,
        technicians=_technicians(site, horizon, closed),
        press_visits=_press_visits(site, len(horizon)),
        needs=tuple(_plan_need(site, need, needs, horizon) for need in needs),
        bookings=_away(site, {need.bow_id for need in needs}, horizon),
        stock=_stock(site, needs, first_day),
        published=_published(site, needs, first_day),
        closed=closed,
        labour_per_hour=float(site.labour_rate_per_hour),
    )


def _open_needs(site: Site, last_day: date) -> list[models.Need]:
    """Needs that may be done by the last day, of bows that have no order in work: those are on their way."""
    busy = models.WorkOrder.objects.filter(
        site=site, status__in=[models.OrderStatus.IN_WORK, models.OrderStatus.SIGNED]
    ).values("bow")
    needs = models.Need.objects.filter(bow__site=site, earliest_on__lte=last_day).exclude(bow__in=busy)
    return list(needs.select_related("bow__spec_sheet").order_by("bow__tag", "kind"))


def _plan_need(site: Site, need: models.Need, needs: list[models.Need], horizon: tuple[date, ...]) -> Need:
    due = (need.due_on - horizon[0]).days
    per_day = float(site.rental_value_per_day) or 1.0
    late = costs.late_by_day(due, per_day * LATE_SHARE, len(horizon))
    pointless = [
        str(other.pk) for other in needs if other.bow_id == need.bow_id and other.kind in CANCELS.get(need.kind, ())
    ]
    return Need(
        id=str(need.pk),
        bow=need.bow.tag,
        kind=PLAN_KINDS[need.kind],
        skill=need.skill,
        bench_min=need.minutes,
        setup_min=SET_UP_MINUTES,
        needs_press=need.needs_press,
        earliest=need.earliest_on,
        due=need.due_on,
        early_cost=costs.early_by_day(due, per_day * EARLY_SHARE, len(horizon)),
        late_cost=late,
        unplaced_cost=late[-1] + per_day,
        hard_latest=None if need.holds else need.latest_on,
        parts=tuple(PartUse(code, count) for code, count in sorted(need.parts.items())),
        held=need.holds,
        cancels=tuple(sorted(pointless)),
    )


def bench_people(site: Site) -> list[Person]:
    """People with bench hours at a site, by name."""
    people = Person.objects.filter(site=site, is_active=True, bench_hours__isnull=False).distinct()
    return list(people.prefetch_related("skills", "bench_hours", "absences").order_by("username"))


def _technicians(site: Site, horizon: tuple[date, ...], closed: frozenset[date]) -> tuple[Technician, ...]:
    return tuple(
        Technician(
            id=person.username,
            skills=frozenset(skill.skill for skill in person.skills.all()),
            minutes=tuple(0 if day in closed else minutes_on(person, day) for day in horizon),
        )
        for person in bench_people(site)
    )


def minutes_on(person: Person, day: date) -> int:
    """Bench minutes of a person on a day; 0 when absent."""
    if any(away.first_day <= day <= away.last_day for away in person.absences.all()):
        return 0
    return sum(hours.minutes for hours in person.bench_hours.all() if hours.weekday == day.weekday())


def _closed_days(site: Site, horizon: tuple[date, ...]) -> frozenset[date]:
    shut = set(site.closed_days.filter(day__in=horizon).values_list("day", flat=True))
    weekdays = set(site.opening_weekdays) or set(range(7))
    return frozenset(day for day in horizon if day in shut or day.weekday() not in weekdays)


def _press_visits(site: Site, days: int) -> tuple[int, ...]:
    visits = sum(press.minutes_per_day // PRESS_VISIT_MINUTES for press in site.presses.all())
    return (visits,) * days


def _away(site: Site, bow_ids: Iterable[int], horizon: tuple[date, ...]) -> tuple[BowAway, ...]:
    """Days on which a bow is promised or out by name: no work is possible then."""
    zone = ZoneInfo(site.time_zone)
    first, after_last = start_of(horizon[0], site.time_zone), end_of(horizon[-1], site.time_zone)
    promised = Booking.objects.filter(
        bow__in=list(bow_ids), cancelled_at=None, end__gte=first, start__lt=after_last
    ).select_related("bow")
    return tuple(
        BowAway(
            reference=booking.reference,
            bow=booking.bow.tag if booking.bow else "",
            first=booking.start.astimezone(zone).date(),
            last=booking.end.astimezone(zone).date(),
            cost=float(site.rental_value_per_day),
            away=True,
        )
        for booking in promised.order_by("reference")
    )


def _stock(site: Site, needs: list[models.Need], first_day: date) -> tuple[PartStock, ...]:
    codes = sorted({code for need in needs for code in need.parts})
    specs = CordSpec.objects.filter(code__in=codes)
    due = SupplierOrder.objects.filter(site=site, received_at=None, cancelled_at=None, cord_spec__in=specs)
    arrivals: dict[int, dict[date, int]] = {}
    for order in due:
        day = max(order.expected_on, first_day)
        by_day = arrivals.setdefault(order.cord_spec_id, {})
        by_day[day] = by_day.get(day, 0) + order.quantity
    return tuple(
        PartStock(
            cord_spec=spec.code,
            on_hand=max(0, lookups.on_hand(site, spec)),
            arrivals=tuple(Arrival(day, count) for day, count in sorted(arrivals.get(spec.pk, {}).items())),
            lead_days=spec.lead_days,
            price=float(spec.price),
            reorder_point=spec.reorder_point,
        )
        for spec in specs
    )


def _published(site: Site, needs: list[models.Need], first_day: date) -> tuple[PublishedJob, ...]:
    """Needs whose order is issued, or whose day is published, stay where people were told."""
    told: dict[int, tuple[date, str]] = {}
    latest = models.Plan.objects.filter(site=site).exclude(published_at=None).order_by("-published_at").first()
    if latest is not None:
        for job in latest.jobs.filter(day__gte=first_day).select_related("technician"):
            told[job.bow_id] = (job.day, job.technician.username)
    issued = models.WorkOrder.objects.filter(site=site, status=models.OrderStatus.ISSUED, day__gte=first_day)
    for order in issued.exclude(technician=None).select_related("technician"):
        told[order.bow_id] = (order.day, order.technician.username if order.technician else "")
    present = {person.username for person in bench_people(site)}
    return tuple(
        PublishedJob(str(need.pk), *told[need.bow_id])
        for need in needs
        if need.bow_id in told and told[need.bow_id][1] in present
    )


@transaction.atomic
def _save(site: Site, problem: PlanProblem, plan: Plan, now: datetime) -> models.Plan:
    models.Plan.objects.filter(site=site, published_at=None).delete()
    saved = models.Plan.objects.create(
        site=site,
        first_day=problem.days[0],
        days=len(problem.days),
        made_at=now,
        report=_report(plan, _stamp(problem.days[0], len(problem.days))),
    )
    needs = {str(need.pk): need for need in _open_needs(site, problem.days[-1])}
    people = {person.username: person for person in bench_people(site)}
    visits: dict[tuple[date, str, int], list[models.Need]] = {}
    for placement in plan.placements:
        need = needs[placement.need]
        visits.setdefault((placement.day, placement.technician, need.bow_id), []).append(need)
    in_day: dict[tuple[date, str], int] = {}
    for (day, technician, _bow), together in sorted(visits.items(), key=lambda one: _order_of_work(*one)):
        place = in_day[day, technician] = in_day.get((day, technician), 0) + 1
        models.PlannedJob.objects.create(
            plan=saved,
            bow=together[0].bow,
            day=day,
            technician=people[technician],
            place_in_day=place,
            minutes=SET_UP_MINUTES + sum(need.minutes for need in together),
            needs=[{"kind": need.kind, "reason": need.reason} for need in together],
            why=f"due on {min(need.due_on for need in together)}",
        )
    for left in plan.unplaced:
        need = needs[left.need]
        models.UnplacedNeed.objects.create(
            plan=saved, bow=need.bow, kind=need.kind, due_on=need.due_on, limit=left.sentence[:300]
        )
    return saved


def _order_of_work(visit: tuple[date, str, int], together: list[models.Need]) -> tuple[date, str, bool, date, str]:
    """Held bows first, then by due date, then by tag."""
    held = any(need.holds for need in together)
    return visit[0], visit[1], not held, min(need.due_on for need in together), together[0].bow.tag


def _report(plan: Plan, stamp: str) -> dict[str, int | str]:
    return {
        "placed": len(plan.placements),
        "unplaced": len(plan.unplaced),
        "cancelled": len(plan.cancelled),
        "stamp": stamp,
    }
