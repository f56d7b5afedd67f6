"""The day at a site's bench: what is issued, what is only planned, and who is there to do it."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import prefetch_related_objects

from fleet.models import Person, Site
from service import decide, schedule
from service.models import OrderStatus, Plan, PlannedJob, UnplacedNeed, WorkOrder
from service.orders.issue import last_planned_day, orders_of, plan_for
from service.planning.drafts import last_day_of
from service.planning.one_at_a_time import patching
from service.planning.told import draft_of

UNPLACED_SHOWN = 50
"""Needs without a day that a page of the bench names, the longest due first; it says how many more there are."""


@dataclass(frozen=True)
class BenchDay:
    """One day: issued orders in the order of work, planned jobs that have none yet, minutes, and of the needs without
    a day those that are due first, with how many there are beside them."""

    day: date
    orders: list[WorkOrder]
    planned: list[PlannedJob]
    unplaced: list[UnplacedNeed]
    people: list[tuple[Person, int]]
    unplaced_more: int = 0

    @property
    def minutes_issued(self) -> int:
        """Bench minutes of the orders still to be done."""
        todo = (OrderStatus.ISSUED, OrderStatus.IN_WORK)
        return sum(order.minutes for order in self.orders if order.status in todo)

    @property
    def minutes_planned(self) -> int:
        """Bench minutes of the jobs that have no order yet."""
        return sum(job.minutes for job in self.planned)

    @property
    def minutes_there(self) -> int:
        """Bench minutes of everybody who works that day."""
        return sum(minutes for _person, minutes in self.people)


def bench_day(site: Site, day: date, now: datetime) -> BenchDay:
    """A day of a site, on fresh wear; days gone by, and those too far ahead for a plan, show their orders alone."""
    orders = orders_of(site, day)
    prefetch_related_objects(orders, "needs")
    people = [(person, schedule.minutes_on(person, day)) for person in schedule.bench_people(site)]
    today = schedule.today_at(site, now)
    if not today <= day <= last_planned_day(today):
        return BenchDay(day, orders, [], [], people)
    plan = _plan_shown(site, day, now)
    with_order = {order.bow_id for order in orders}
    jobs = plan.jobs.filter(day=day).select_related("bow__spec_sheet", "technician")
    unplaced = plan.unplaced.select_related("bow").order_by("due_on", "bow__tag")
    return BenchDay(
        day,
        orders,
        [job for job in jobs if job.bow_id not in with_order],
        list(unplaced[:UNPLACED_SHOWN]),
        people,
        max(0, unplaced.count() - UNPLACED_SHOWN),
    )


def _plan_shown(site: Site, day: date, now: datetime) -> Plan:
    """The draft on fresh wear; while somebody else is patching it, as it stands."""
    with patching(site) as mine:
        saved = None if mine else draft_of(site)
        if saved is not None and saved.first_day <= day <= last_day_of(saved):
            return saved
        decide.refresh_stale(now)
        return plan_for(site, day, now)
