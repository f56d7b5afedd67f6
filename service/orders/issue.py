"""Issuing orders: a planned job gets its number and its frozen sheet."""

from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from fleet import lookups, record
from fleet.models import Bow, Person, Site
from fleet.refusal import Refused
from service import decide, schedule
from service.house import BENCH_WORK, SET_UP_MINUTES
from service.models import OPEN_ORDER, Need, NeedKind, OrderNeed, OrderStatus, Plan, PlannedJob, WorkOrder
from service.orders.contents import freeze
from service.orders.numbers import next_number
from service.plan.problem import LONGEST_HORIZON_DAYS

# A plan sees so many days beyond the one that it is asked for, so that what is due just after it is weighed too.
DAYS_BEYOND = 7


def issue_day(site: Site, day: date, *, by: Person, now: datetime) -> list[WorkOrder]:
    """Issue an order for each job planned on a day that has none; returns the day's orders in the order of work.

    Nothing is issued for a day gone by: its orders are returned as they are.
    """
    if day < schedule.today_at(site, now):
        return orders_of(site, day)
    decide.refresh_stale(now)
    with transaction.atomic():
        plan = plan_for(site, day, now)
        for job in plan.jobs.filter(day=day).select_related("bow__site", "bow__spec_sheet", "technician"):
            if not WorkOrder.objects.filter(bow=job.bow, status__in=OPEN_ORDER).exists():
                _issue_job(job, by, now)
    return orders_of(site, day)


def orders_of(site: Site, day: date) -> list[WorkOrder]:
    """The orders of a day that were not cancelled, in the order of work."""
    orders = WorkOrder.objects.filter(site=site, day=day).exclude(status=OrderStatus.CANCELLED)
    return list(
        orders.select_related("bow__spec_sheet", "site", "technician", "reference_set__taken_by").order_by(
            "technician__display_name", "place_in_day", "number"
        )
    )


def plan_for(site: Site, day: date, now: datetime) -> Plan:
    """The draft that covers the day, patched when it is older than today's facts; published days stand in it.

    Refused for a day beyond what is planned.
    """
    today = schedule.today_at(site, now)
    last = last_planned_day(today)
    if day > last:
        raise Refused(
            _("%(day)s is too far ahead: the bench is planned up to %(last)s; choose a day until then.")
            % {"day": day, "last": last}
        )
    first = min(today, day)
    return schedule.current_draft(site, first, max(schedule.DEFAULT_DAYS, (day - first).days + DAYS_BEYOND), now)


def last_planned_day(today: date) -> date:
    """The furthest day for which jobs are planned."""
    return today + timedelta(days=LONGEST_HORIZON_DAYS - DAYS_BEYOND)


def _issue_job(job: PlannedJob, by: Person, now: datetime) -> None:
    kinds = [need["kind"] for need in job.needs]
    needs = list(Need.objects.filter(bow=job.bow, kind__in=kinds))
    # A published plan may be older than the work that made its need go away.
    if needs:
        _issue(job.bow, needs, job.day, job.technician, job.place_in_day, by, now)


def issue_now(bow: Bow, *, day: date, by: Person, now: datetime, technician: Person | None = None) -> WorkOrder:
    """Issue an order for what a bow needs, outside the plan: its held needs and those due within a fortnight."""
    decide.refresh([bow.pk], now)
    with transaction.atomic():
        # Two people at two screens: the second waits here and then sees the first one's order.
        Bow.objects.select_for_update(of=("self",), no_key=True).get(pk=bow.pk)
        there = WorkOrder.objects.filter(bow=bow, status__in=OPEN_ORDER).first()
        if there is not None:
            raise Refused(
                _("%(tag)s has an open order, %(number)s: work on that one, or cancel it first.")
                % {"tag": bow.tag, "number": there.number}
            )
        needs = list(Need.objects.filter(bow=bow, earliest_on__lte=day)) or [_requested(bow, day)]
        return _issue(bow, needs, day, technician, 0, by, now)


def _requested(bow: Bow, day: date) -> Need:
    work = BENCH_WORK[NeedKind.REQUESTED]
    return Need(
        bow=bow,
        kind=NeedKind.REQUESTED,
        reason="asked for by a person; nothing is due",
        earliest_on=day,
        due_on=day,
        minutes=work.minutes(bow.spec_sheet.bow_kind),
        skill=work.skill,
        needs_press=work.press(bow.spec_sheet.bow_kind),
    )


def _issue(
    bow: Bow,
    needs: list[Need],
    day: date,
    technician: Person | None,
    place_in_day: int,
    by: Person,
    now: datetime,
) -> WorkOrder:
    reference_set = lookups.current_reference_set(bow)
    order = WorkOrder.objects.create(
        number=next_number(bow.site, day),
        site=bow.site,
        bow=bow,
        day=day,
        place_in_day=place_in_day,
        technician=technician,
        minutes=SET_UP_MINUTES + sum(need.minutes for need in needs),
        reference_set=reference_set,
        frozen=freeze(bow, needs, reference_set, now),
        issued_at=now,
        issued_by=by,
    )
    OrderNeed.objects.bulk_create(
        OrderNeed(order=order, fitting=need.fitting, kind=need.kind, reason=need.reason) for need in needs
    )
    kinds = [need.kind for need in needs]
    record.note_order(
        by=by, bow=bow, order_number=order.number, step="issued", day=day, technician=technician, kinds=kinds
    )
    return order
