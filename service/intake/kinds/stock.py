"""Files of stock movements."""

from collections import Counter

from fleet import record
from fleet.models import StockMovement
from fleet.ranges import STOCK_COUNT
from fleet.vocabulary import MovementKind
from service.intake.changes import Change, Status, compare
from service.intake.desk import Desk
from service.intake.keys import KEY_COLUMN, content_key, digest
from service.intake.kind import Kind
from service.intake.numbers import whole
from service.intake.problems import CellError
from service.intake.rows import Row
from service.intake.times import instant
from service.intake.words import choice, cord_spec_column, site_column, text
from service.said import say

COLUMNS = (
    cord_spec_column(),
    site_column(),
    choice(
        "movement", dict(MovementKind.choices), say("received, used, scrapped, or counted on the shelf"), required=True
    ),
    whole("quantity", STOCK_COUNT, say("cords moved; for counted, cords on the shelf"), required=True),
    text("order_number", 24, say("work order or delivery that it belongs to")),
    KEY_COLUMN,
    instant("at", say("when"), required=True, day_alone=True),
)


def _prepare(rows: list[Row], desk: Desk) -> None:
    """A key for every row that has none: its content, and which of the identical lines it is."""
    seen: Counter[bytes] = Counter()
    for row in rows:
        if "key" not in row.values:
            site = desk.site_named(row.values)
            content = digest(
                "stock", site.code if site else "", row["cord_spec"].code, row["movement"], row["quantity"],
                row["at"].isoformat(), row.get("order_number", ""),
            )  # fmt: skip
            seen[content] += 1
            row.values["key"] = content_key(content, seen[content])


def _take(row: Row, desk: Desk) -> Change:
    site = desk.site_of(row.values)
    if row["movement"] != MovementKind.COUNTED and row["quantity"] == 0:
        raise CellError(
            say("nothing moved"), allowed=say("1 to 100000 cords"), fix=say("take the row out"), column="quantity"
        )
    known = StockMovement.objects.filter(key=row["key"]).select_related("cord_spec", "site").first()
    if known is None:
        change = compare(row, f"{row['cord_spec'].code} at {site.code}", None)
        record.move_stock(
            by=desk.by,
            site=site,
            cord_spec=row["cord_spec"],
            kind=row["movement"],
            quantity=row["quantity"],
            at=row["at"],
            key=row["key"],
            now=desk.now,
            order_number=row.get("order_number", ""),
        )
        return change
    # A count is kept as its difference from the shelf, so its number cannot be held against the file's.
    quantity = row["quantity"] if known.kind == MovementKind.COUNTED else abs(known.quantity)
    there = (known.cord_spec, known.site, known.kind, quantity, known.at)
    if there != (row["cord_spec"], site, row["movement"], row["quantity"], row["at"]):
        raise CellError(
            say(
                "the book has this key for another movement (%(kind)s %(quantity)s %(cord_spec)s)",
                kind=known.kind,
                quantity=known.quantity,
                cord_spec=known.cord_spec.code,
            ),
            allowed=say("a key of its own"),
            fix=say("give a new key; a movement is never rewritten"),
            column="key",
        )
    return Change(row.line, f"{known.cord_spec.code} at {site.code}", Status.UNCHANGED)


STOCK = Kind(
    "stock", say("cords received, used, scrapped and counted"), COLUMNS, ("key",), _take,
    prepare=_prepare, order=lambda row: row["at"],
)  # fmt: skip
