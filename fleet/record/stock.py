"""Verbs on stock: movements, supplier orders and their arrival."""

from datetime import date, datetime

from fleet import lookups
from fleet.models import CordSpec, Person, Site, StockMovement, SupplierOrder
from fleet.ranges import STOCK_COUNT
from fleet.record.kernel import audit, not_in_future, put, verb
from fleet.refusal import Refused
from fleet.vocabulary import MovementKind


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
        return existing
    if kind not in MovementKind.values:
        raise Refused(f"movement {kind!r} is not one of {', '.join(MovementKind.values)}.")
    STOCK_COUNT.check(quantity)
    not_in_future("stock movement", at, now)
    there = lookups.on_hand(site, cord_spec)
    signed = {"received": quantity, "used": -quantity, "scrapped": -quantity, "counted": quantity - there}[kind]
    if there + signed < 0:
        raise Refused(
            f"{cord_spec.code} at {site}: {quantity} {kind}, but only {there} are on the shelf: count the shelf first."
        )
    movement = StockMovement.objects.create(
        cord_spec=cord_spec, site=site, kind=kind, quantity=signed, at=at, by=by, order_number=order_number, key=key
    )
    audit(by, "move_stock", movement, site=site, cord_spec=cord_spec.code, kind=kind, quantity=signed)
    return movement


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
    STOCK_COUNT.check(quantity)
    if expected_on < ordered_on:
        raise Refused(f"{reference}: expected on {expected_on}, before it was ordered on {ordered_on}: swap the days.")
    order = SupplierOrder.objects.filter(reference=reference).first() or SupplierOrder(reference=reference)
    changed = put(
        order,
        {
            "site": site,
            "cord_spec": cord_spec,
            "quantity": quantity,
            "ordered_on": ordered_on,
            "expected_on": expected_on,
        },
    )
    if changed:
        audit(by, "put_supplier_order", order, reference=reference, changed=changed)
    return order


@verb
def receive_order(*, by: Person, order: SupplierOrder, at: datetime, now: datetime) -> StockMovement:
    """Take a supplier order in: its cords are on the shelf."""
    if order.received_at is not None:
        raise Refused(f"order {order.reference} was already received at {order.received_at:%Y-%m-%d %H:%M} UTC.")
    order.received_at = at
    order.save(update_fields=["received_at"])
    return move_stock(
        by=by,
        site=order.site,
        cord_spec=order.cord_spec,
        kind=MovementKind.RECEIVED,
        quantity=order.quantity,
        at=at,
        key=f"supplier-order-{order.pk}",
        now=now,
    )
