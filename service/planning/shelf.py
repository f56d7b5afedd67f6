"""Cords on the shelf and on order, as the plan may count on them."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import date

from fleet import lookups
from fleet.models import CordSpec, Site, SupplierOrder
from service.models import Need, NeedKind, OrderStatus, WorkOrder
from service.plan.problem import Arrival, PartStock


def part_stock(site: Site, codes: Iterable[str], first_day: date) -> tuple[PartStock, ...]:
    """Of each cord spec: on hand less what a begun order has taken, what comes when, lead time and price."""
    specs = CordSpec.objects.filter(code__in=sorted(set(codes))).order_by("code")
    promised, there = _promised(site), lookups.shelf_counts(site)
    due = SupplierOrder.objects.filter(site=site, received_at=None, cancelled_at=None, cord_spec__in=specs)
    arrivals: defaultdict[int, Counter[date]] = defaultdict(Counter)
    for order in due:
        arrivals[order.cord_spec_id][max(order.expected_on, first_day)] += order.quantity
    return tuple(
        PartStock(
            cord_spec=spec.code,
            on_hand=max(0, there.get(spec.pk, 0) - promised[spec.code]),
            arrivals=tuple(Arrival(day, count) for day, count in sorted(arrivals[spec.pk].items()) if count > 0),
            lead_days=spec.lead_days,
            price=float(spec.price),
            reorder_point=spec.reorder_point,
        )
        for spec in specs
    )


def _promised(site: Site) -> Counter[str]:
    """Cords that begun replacements will use: they leave the shelf only when the order is signed."""
    begun = WorkOrder.objects.filter(
        site=site, status=OrderStatus.IN_WORK, needs__kind=NeedKind.REPLACEMENT
    ).values_list("bow", flat=True)
    promised: Counter[str] = Counter()
    for parts in Need.objects.filter(bow__in=list(begun), kind=NeedKind.REPLACEMENT).values_list("parts", flat=True):
        promised.update(parts)
    return promised
