"""Verbs on stock: movements, supplier orders and their arrival."""

from datetime import date, datetime
from itertools import accumulate

from django.utils.translation import gettext as _

from fleet import lookups
from fleet.models import CordSpec, Person, Site, StockMovement, SupplierOrder
from fleet.ranges import ORDER_QUANTITY, STOCK_COUNT
from fleet.record.kernel import add, audit, not_in_future, put, same_entry, verb
from fleet.refusal import Refused
from fleet.vocabulary import MovementKind
from service.wording import day_here, moment_here


@verb
def move_stock(
    *,
    by: Person,
    site: Site,
    cord_spec: CordSpec,
    kind: str,
    quantity: int,
    at: datetime,
    key: str,
    now: datetime,
    order_number: str = "",
) -> StockMovement:
    """Record cords received, used or scrapped (a positive number each), or counted (what is on the shelf)."""
    existing = StockMovement.objects.filter(key=key).first()
    if existing is not None:
        same_entry(key, {"cord spec": (existing.cord_spec, cord_spec), "kind": (existing.kind, kind)})
        return existing
    if kind not in MovementKind.values:
        raise Refused(
            _("movement '%(kind)s' is not one of %(values)s.")
            % {"kind": kind, "values": ", ".join(MovementKind.values)}
        )
    allowed = STOCK_COUNT if kind == MovementKind.COUNTED else ORDER_QUANTITY
    allowed.check(quantity)
    not_in_future("stock movement", at, now)
    # Two people at two screens take the last cord: the second one waits here and then reads that it is gone.
    CordSpec.objects.select_for_update(no_key=True).get(pk=cord_spec.pk)
    there = lookups.on_hand(site, cord_spec, at)
    signed = {"received": quantity, "used": -quantity, "scrapped": -quantity, "counted": quantity - there}[kind]
    lowest = _lowest_from(site, cord_spec, at, there)
    if signed < 0 and lowest + signed < 0:
        raise Refused(
            _(
                "%(code)s at %(site)s: %(quantity)s %(kind)s on %(at)s, but only %(lowest)s are on the "
                "shelf from then on: count the shelf and record the count first."
            )
            % {
                "code": cord_spec.code,
                "site": site,
                "quantity": quantity,
                "kind": kind,
                "at": day_here(at),
                "lowest": lowest,
            }
        )
    movement = add(
        StockMovement(
            cord_spec=cord_spec, site=site, kind=kind, quantity=signed, at=at, by=by, order_number=order_number, key=key
        )
    )
    audit(by, "move_stock", movement, site=site, cord_spec=cord_spec.code, kind=kind, quantity=signed)
    return movement


def _lowest_from(site: Site, spec: CordSpec, at: datetime, there: int) -> int:
    """The least number on the shelf at or after an instant at which `there` are on it."""
    later = StockMovement.objects.filter(site=site, cord_spec=spec, at__gt=at).order_by("at", "pk")
    return min(accumulate(later.values_list("quantity", flat=True), initial=there))


@verb
def put_supplier_order(
    *,
    by: Person,
    site: Site,
    cord_spec: CordSpec,
    reference: str,
    quantity: int,
    ordered_on: date,
    expected_on: date,
) -> SupplierOrder:
    """Record cords on order, or change when they are expected."""
    ORDER_QUANTITY.check(quantity)
    if expected_on < ordered_on:
        raise Refused(
            _("%(reference)s: expected on %(expected_on)s, before it was ordered on %(ordered_on)s: swap the days.")
            % {"reference": reference, "expected_on": expected_on, "ordered_on": ordered_on}
        )
    order = SupplierOrder.objects.filter(reference=reference).first() or SupplierOrder(reference=reference)
    values = {
        "site": site,
        "cord_spec": cord_spec,
        "quantity": quantity,
        "ordered_on": ordered_on,
        "expected_on": expected_on,
    }
    if order.pk is not None and any(getattr(order, name) != value for name, value in values.items()):
        _check_open(order)
    changed = put(order, values)
    if changed:
        audit(by, "put_supplier_order", order, reference=reference, changed=changed)
    return order


@verb
def receive_order(*, by: Person, order: SupplierOrder, at: datetime, now: datetime) -> StockMovement:
    """Take a supplier order in: its cords are on the shelf."""
    order = SupplierOrder.objects.select_for_update(of=("self",)).get(pk=order.pk)
    _check_open(order)
    order.received_at = at
    order.save(update_fields=["received_at"])
    audit(by, "receive_order", order, reference=order.reference, quantity=order.quantity)
    return move_stock(
        by=by,
        site=order.site,
        cord_spec=order.cord_spec,
        kind=MovementKind.RECEIVED,
        quantity=order.quantity,
        at=at,
        key=f"supplier-order-{order.reference}",
        now=now,
    )


@verb
def cancel_order(*, by: Person, order: SupplierOrder, at: datetime, why: str) -> SupplierOrder:
    """Strike out a supplier order that will not come."""
    order = SupplierOrder.objects.select_for_update(of=("self",)).get(pk=order.pk)
    _check_open(order)
    order.cancelled_at = at
    order.save(update_fields=["cancelled_at"])
    audit(by, "cancel_order", order, reference=order.reference, why=why)
    return order


def _check_open(order: SupplierOrder) -> None:
    if order.received_at is not None:
        raise Refused(
            _("order %(reference)s was already received at %(received_at)s.")
            % {"reference": order.reference, "received_at": moment_here(order.received_at)}
        )
    if order.cancelled_at is not None:
        raise Refused(
            _("order %(reference)s was cancelled at %(cancelled_at)s: give a new reference.")
            % {"reference": order.reference, "cancelled_at": moment_here(order.cancelled_at)}
        )
