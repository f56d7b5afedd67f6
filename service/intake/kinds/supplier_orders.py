"""Files of cords on order at suppliers."""

from typing import Any

from fleet import record
from fleet.models import SupplierOrder
from fleet.ranges import ORDER_QUANTITY
from service.intake.changes import Change, Status, compare
from service.intake.desk import Desk
from service.intake.kind import Kind
from service.intake.numbers import whole
from service.intake.problems import CellError
from service.intake.rows import Row
from service.intake.times import day
from service.intake.words import cord_spec_column, site_column, text
from service.said import say

COLUMNS = (
    text("reference", 40, say("the order's reference: unique"), required=True),
    cord_spec_column(),
    site_column(),
    whole("quantity", ORDER_QUANTITY, say("cords ordered"), required=True),
    day("ordered_on", say("day on which it was ordered"), required=True),
    day("expected_on", say("day on which it is expected"), required=True, past=False),
)


def _take(row: Row, desk: Desk) -> Change:
    site = desk.site_of(row.values)
    if row["expected_on"] < row["ordered_on"]:
        raise CellError(
            say("it is expected before it was ordered"),
            allowed=say("the day of ordering or later"),
            fix=say("swap the days"),
            column="expected_on",
        )
    order = SupplierOrder.objects.filter(reference=row["reference"]).select_related("cord_spec", "site").first()
    change = compare(row, row["reference"], _before(order))
    if change.status is not Status.UNCHANGED:
        record.put_supplier_order(
            by=desk.by,
            site=site if order is None or "site" in row.values else order.site,
            cord_spec=row["cord_spec"],
            reference=row["reference"],
            quantity=row["quantity"],
            ordered_on=row["ordered_on"],
            expected_on=row["expected_on"],
        )
    return change


def _before(order: SupplierOrder | None) -> dict[str, Any] | None:
    fields = ("reference", "cord_spec", "site", "quantity", "ordered_on", "expected_on")
    return None if order is None else {name: getattr(order, name) for name in fields}


SUPPLIER_ORDERS = Kind("supplier_orders", say("cords on order at suppliers"), COLUMNS, ("reference",), _take)
