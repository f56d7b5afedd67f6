"""Work orders over days and sites, the latest day first, narrowed to what a person looks for; and as rows of a file."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from fleet.models import Bow, Person, Site
from service.export import Cell
from service.models import OrderStatus, WorkOrder

ORDER_COLUMNS = (
    *("site", "order", "day", "bow", "status", "technician", "minutes", "work"),
    *("issued_at", "started_at", "signed_at", "closed_at"),
)
ROWS_AT_ONCE = 1_000


@dataclass(frozen=True)
class OrdersWanted:
    """What is looked for; an empty field means any. `text` is part of a bow's tag or of an order's number."""

    sites: tuple[Site, ...]
    text: str = ""
    status: str = ""
    technician: str = ""
    first_day: date | None = None
    last_day: date | None = None


def orders_in_order(wanted: OrdersWanted) -> "QuerySet[WorkOrder]":
    """The orders that a person looks for, the latest day first, and within a day in the order of work."""
    orders = WorkOrder.objects.filter(site__in=wanted.sites)
    if wanted.text:
        of_bows = orders.filter(bow__in=Bow.objects.filter(tag__icontains=wanted.text).values("pk"))
        orders = of_bows | orders.filter(number__icontains=wanted.text)
    if wanted.status in OrderStatus.values:
        orders = orders.filter(status=wanted.status)
    if wanted.technician:
        orders = orders.filter(technician__username=wanted.technician)
    if wanted.first_day:
        orders = orders.filter(day__gte=wanted.first_day)
    if wanted.last_day:
        orders = orders.filter(day__lte=wanted.last_day)
    # By name where there are several: the orders of one are read in the order of its index.
    between = ["site"] if len(wanted.sites) > 1 else []
    return orders.order_by("-day", *between, "place_in_day", "number")


def with_names(orders: "QuerySet[WorkOrder]") -> "QuerySet[WorkOrder]":
    """The orders with all that a line shows; no query for each."""
    return orders.select_related("site", "bow__spec_sheet", "technician").prefetch_related("needs").defer("frozen")


def people_at(sites: Sequence[Site]) -> "QuerySet[Person]":
    """Who has a role at one of the sites, or at all, by name: whom an order there may be given to."""
    at_sites = Person.objects.filter(posts__site__in=sites) | Person.objects.filter(posts__site=None)
    return at_sites.filter(is_active=True).distinct().order_by("display_name", "username")


def rows_of(orders: "QuerySet[WorkOrder]") -> Iterator[Sequence[Cell]]:
    """ORDER_COLUMNS of each order; instants on the clock of its site."""
    for order in with_names(orders).iterator(chunk_size=ROWS_AT_ONCE):
        zone = ZoneInfo(order.site.time_zone)
        moments = (order.issued_at, order.started_at, order.signed_at, order.closed_at)
        yield (
            *(order.site.code, order.number, order.day, order.bow.tag, order.status),
            *(str(order.technician or ""), order.minutes, ", ".join(_kinds(order))),
            *(_on_its_clock(moment, zone) for moment in moments),
        )


def _kinds(order: WorkOrder) -> Iterable[str]:
    return (need.kind for need in order.needs.all())


def _on_its_clock(moment: datetime | None, zone: ZoneInfo) -> datetime | None:
    return None if moment is None else moment.astimezone(zone)
