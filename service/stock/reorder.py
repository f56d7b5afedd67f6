"""The reorder list as rows: grouped by cord spec, with lengths and strands, and as CSV."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from django.utils.translation import gettext as _

from fleet.models import CordSpec
from service.export import csv_text
from service.stock.shelf import ReorderLine, Shelf
from service.units import from_si

LENGTH_UNIT = {"imperial": "in", "metric": "mm"}


@dataclass(frozen=True)
class ReorderGroup:
    """All that is to be ordered of one cord spec, the soonest first."""

    spec: CordSpec
    lines: tuple[ReorderLine, ...]

    @property
    def count(self) -> int:
        """Cords to order."""
        return sum(line.order.count for line in self.lines)

    @property
    def cost(self) -> float:
        """In the site's currency."""
        return sum(line.order.cost for line in self.lines)

    @property
    def order_by(self) -> date:
        """The soonest day."""
        return min(line.order.order_by for line in self.lines)

    @property
    def is_late(self) -> bool:
        """Whether any of them comes too late even if it is ordered today."""
        return any(line.order.late for line in self.lines)


def grouped(lines: Sequence[ReorderLine]) -> tuple[ReorderGroup, ...]:
    """The lines by cord spec; the spec to be ordered soonest comes first."""
    by_code = sorted(lines, key=lambda line: (line.spec.code, line.order.order_by, line.order.needed_by))
    groups = [ReorderGroup(spec, tuple(some)) for spec, some in groupby(by_code, key=lambda line: line.spec)]
    return tuple(sorted(groups, key=lambda group: (group.order_by, group.spec.code)))


def reorder_csv(shelf: Shelf) -> str:
    """One row per line of the list; the length in the site's unit, which its heading names."""
    unit = LENGTH_UNIT[shelf.site.units]
    head = (
        "cord_spec", "maker", "position", f"length_{unit}", "strands", "fibre", "quantity", "order_by", "needed_by",
        "late", "earliest_arrival", "price", "cost", "currency", "for_bows",
    )  # fmt: skip
    rows = [
        (
            line.spec.code, line.spec.maker, line.spec.position, f"{from_si(line.spec.length_m, unit):.10g}",
            line.spec.strands, line.spec.fibre, line.order.count, line.order.order_by.isoformat(),
            line.order.needed_by.isoformat(), "yes" if line.order.late else "no",
            line.order.earliest_arrival.isoformat(), f"{line.spec.price:.2f}", f"{line.order.cost:.2f}",
            shelf.site.currency, " ".join(line.bows),
        )
        for group in grouped(shelf.to_order)
        for line in group.lines
    ]  # fmt: skip
    return csv_text(head, rows)


def wanted_for(line: ReorderLine) -> str:
    """What a line is for, in words."""
    if line.bows:
        return _("for %(bows)s") % {"bows": ", ".join(line.bows)}
    return _("back to the reorder point of %(point)d") % {"point": line.spec.reorder_point}
