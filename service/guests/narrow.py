"""Which bows could be for a guest, asked of the database: what does not fit, is held, out, worn or promised is not.

What is left out here would be refused by the full check too (`hire_bows.candidates` and `plan.guests.fit_of`), and for
certain: where a bow's days hang on what the bench has planned for it, it is left in. What is left in is offered only
after the full check, so that a mistake here could cost time, and never put a bow that is not ready into a hand.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import isfinite
from typing import Any

from django.db.models import Case, ExpressionWrapper, F, FloatField, IntegerField, Q, QuerySet, When
from django.db.models import Value as Fixed

from fleet.models import BenchVisit, Booking, Hire, Hold, Site
from fleet.vocabulary import WearChoice
from service.guest_models import GuestBow
from service.guests.hire_bows import guest_booking
from service.guests.readiness import ROUTINE
from service.instants import day_of, end_of, start_of
from service.models import OPEN_ORDER, Need, NeedKind, PlannedJob, WorkOrder
from service.plan.guests import GuestBooking, Misfit, clash
from service.said import say
from service.stock.shelf import saved_plan

# A share that differs by less than the arithmetic of two engines is left to the full check.
ROUNDING = 1e-9


@dataclass(frozen=True)
class Wanted:
    """What a guest asks for; `kind`: of this kind of bow alone (empty: of any)."""

    asked: GuestBooking
    kind: str = ""


def shape_misfits(wanted: Wanted) -> dict[str, Q]:
    """What speaks against a bow by its shape alone -> the rows of which that is true."""
    asked, found = wanted.asked, {}
    if asked.bow is not None:
        found[Misfit.OTHER_BOW.value] = ~Q(bow__tag=asked.bow)
    if asked.hand is not None:
        found[Misfit.HAND.value] = ~Q(hand=asked.hand)
    if asked.draw_length_m is not None:
        length = asked.draw_length_m
        found[Misfit.DRAW_LENGTH.value] = Q(draw_from_m__gt=length) | Q(draw_to_m__lt=length)
    if asked.peak_weight_n is not None:
        low, high = asked.peak_weight_n
        heavier = Q(weight_from_n__gt=high) if isfinite(high) else Q()
        found[Misfit.PEAK_WEIGHT.value] = Q(weight_to_n__lt=low) | heavier
    if wanted.kind:
        found[say("another kind of bow")] = ~Q(kind=wanted.kind)
    return found


def could_serve(
    site: Site, wanted: Wanted, now: datetime, promised: Mapping[int, Sequence[GuestBooking]]
) -> QuerySet[GuestBow]:
    """Rows that the full check may find to fit, best first: without bench work before, then as the site spreads wear.

    `promised`: the bows that others have then. Bows worn alike stand in the order in which they came into the book.
    """
    asked, today = wanted.asked, day_of(now, site.time_zone)
    rows = GuestBow.objects.filter(site=site, complete=True)
    # No bow is ready on a day that is over.
    if asked.first < today:
        return rows.none()
    for misfit in shape_misfits(wanted).values():
        rows = rows.exclude(misfit)
    jobs, orders = planned_work(site, today)
    planned = Q(pk__in=jobs.values("bow")) | Q(pk__in=orders.values("bow"))
    rows = rows.exclude(_kept_back(site, asked, today, planned)).exclude(pk__in=list(promised))
    days = max(0, (asked.last - today).days)
    at_end = ExpressionWrapper(F("used") + F("per_day") * days + F("per_shot") * asked.shots, FloatField())
    rows = rows.annotate(at_end=at_end).exclude(Q(at_end__gt=1.0 + ROUNDING) & ~planned)
    before = Q(pk__in=jobs.filter(day__lt=asked.last).values("bow"))
    if asked.last > today:
        before |= Q(pk__in=orders.filter(day__lt=asked.last).values("bow"))
    after_bench = Case(When(before, then=Fixed(1)), default=Fixed(0), output_field=IntegerField())
    worn = "-at_end" if site.wear_choice == WearChoice.OLDEST_FIRST else "at_end"
    return rows.annotate(after_bench=after_bench).order_by("after_bench", worn, "pk")


def least_against(site: Site, wanted: Wanted) -> QuerySet[GuestBow]:
    """All rows of the site: those first against which least speaks by their shape."""
    count: Any = Fixed(0)
    for misfit in shape_misfits(wanted).values():
        count = count + Case(When(misfit, then=Fixed(1)), default=Fixed(0))
    rows = GuestBow.objects.filter(site=site)
    if not shape_misfits(wanted):
        return rows.order_by("used", "pk")
    return rows.annotate(misfits=ExpressionWrapper(count, IntegerField())).order_by("misfits", "used", "pk")


def planned_work(site: Site, today: date) -> tuple[QuerySet[PlannedJob], QuerySet[WorkOrder]]:
    """What the bench has before it, as `readiness` reads it."""
    plan = saved_plan(site, today)
    # A query that finds nothing, and not `none()`: PostgreSQL takes the constant that an ordering by it becomes for a
    # column's number.
    jobs = PlannedJob.objects.filter(plan_id=0 if plan is None else plan.pk, day__gte=today)
    return jobs.order_by(), WorkOrder.objects.filter(status__in=OPEN_ORDER).order_by()


def _kept_back(site: Site, asked: GuestBooking, today: date, planned: Q) -> Q:
    """Bows that are certainly not ready on the days asked for: each line repeats one of `readiness`."""
    at_once = asked.first <= today
    begin = start_of(asked.first, site.time_zone)
    out = Hire.objects.filter(back_at=None)
    if not at_once:
        out = out.filter(Q(booking=None) | Q(booking__end__gte=begin))
    on_bench = Q(pk__in=BenchVisit.objects.filter(until=None).values("bow"))
    held = Q(pk__in=Hold.objects.filter(released=None).values("bow"))
    # What the bench has planned for a day counts as done from the day after, which is later than today.
    planned_in_time = Q(pk__in=[]) if at_once else planned
    kept = Q(pk__in=out.values("bow")) | (on_bench & ~planned_in_time)
    if at_once:
        kept |= held
    overdue, due_before = _needs_past(site, today, today), _needs_past(site, asked.last, today)
    not_routine = Q(kind__in=[kind for kind in NeedKind if kind not in ROUTINE])
    kept |= Q(pk__in=due_before.filter(not_routine).values("bow"))
    kept |= Q(pk__in=due_before.values("bow")) & ~planned
    return kept | (Q(pk__in=overdue.values("bow")) & ~planned_in_time)


def _needs_past(site: Site, last: date, today: date) -> QuerySet[Need]:
    """Needs of the site with which a bow may not be out on `last`, or is not ready now."""
    grace = timedelta(days=site.timing_grace_days)
    day = max(last, today)
    past = Q(holds=True)
    past |= Q(holds=False, kind=NeedKind.TIMING_CHECK, due_on__lt=day - grace)
    if not site.guests_shoot_in:
        past |= Q(holds=False, kind=NeedKind.SETTLE_IN)
    dated = [kind for kind in NeedKind if kind not in (NeedKind.TIMING_CHECK, NeedKind.SETTLE_IN)]
    past |= Q(holds=False, kind__in=dated, latest_on__lt=day)
    return Need.objects.filter(past, bow__site=site).order_by()


def promised_then(site: Site, asked: GuestBooking, now: datetime) -> dict[int, list[GuestBooking]]:
    """Bow id -> other bookings that have that very bow at the time that is asked for."""
    zone = site.time_zone
    begin, end = asked.hours or (start_of(asked.first, zone), end_of(asked.last, zone))
    others = Booking.objects.filter(site=site, cancelled_at=None, bow__isnull=False, end__gt=max(now, begin))
    found: dict[int, list[GuestBooking]] = {}
    for booking in others.filter(start__lt=end).select_related("bow", "site").order_by("start", "reference"):
        other = guest_booking(booking)
        if booking.bow_id is not None and other.reference != asked.reference and clash(asked, other):
            found.setdefault(booking.bow_id, []).append(other)
    return found
