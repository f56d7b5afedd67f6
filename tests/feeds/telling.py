"""Plans published and orders issued for the feeds' tests, straight into the service's own tables."""

from datetime import date, datetime

from fleet.models import Bow
from service.models import OrderNeed, Plan, PlannedJob, WorkOrder
from tests.personas import Shop

Job = tuple[Bow, date, int, tuple[str, ...]]  # bow, day, minutes, kinds of work


def publish(shop: Shop, at: datetime, first_day: date, days: int, jobs: list[Job], technician: object = None) -> Plan:
    """A plan published at an instant, its jobs in the order given."""
    plan = Plan.objects.create(
        site=shop.site, first_day=first_day, days=days, made_at=at, published_at=at, published_by=shop.manager
    )
    for place, (bow, day, minutes, kinds) in enumerate(jobs, start=1):
        PlannedJob.objects.create(
            plan=plan, bow=bow, day=day, technician=technician or shop.technician, place_in_day=place,
            minutes=minutes, needs=[{"kind": kind, "reason": "of Wilhelmina Quade"} for kind in kinds], why="",
        )  # fmt: skip
    return plan


def issue(shop: Shop, bow: Bow, day: date, at: datetime, kinds: tuple[str, ...], number: str = "LK-1") -> WorkOrder:
    """An order issued at an instant."""
    order = WorkOrder.objects.create(
        number=number, site=shop.site, bow=bow, day=day, technician=shop.technician, minutes=40, issued_at=at,
        issued_by=shop.manager, note="Wilhelmina Quade",
    )  # fmt: skip
    for kind in kinds:
        OrderNeed.objects.create(order=order, kind=kind, reason="of Wilhelmina Quade")
    return order
