"""Work on an order: starting it, typing what was found, done and left; cancelling. Nothing typed is lost."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleet import record
from fleet.models import CordSpec, MeasuringTool, Person
from fleet.ranges import HALF_TWISTS, MEASUREMENTS
from fleet.refusal import Refused
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, Finding, RemovalReason
from service.models import OrderCord, OrderReading, OrderStatus, WorkOrder


@dataclass(frozen=True)
class TypedReading:
    """One measurement as typed (SI; None = left empty)."""

    kind: str
    as_found: float | None
    as_left: float | None
    position: str = ""
    tool_code: str = ""
    read_twice: bool = False


@dataclass(frozen=True)
class TypedCord:
    """What was done to the cord at a position."""

    position: str
    replaced: bool = False
    removed_why: str = ""
    finding: str = ""
    new_spec: CordSpec | None = None
    new_serial: str = ""
    new_lot: str = ""
    half_twists: int | None = None


def _require(order: WorkOrder, *allowed: OrderStatus) -> None:
    if order.status not in allowed:
        raise Refused(
            _("order %(number)s is %(status)s: this needs it to be %(wanted)s.")
            % {
                "number": order.number,
                "status": OrderStatus(order.status).label,
                "wanted": " or ".join(str(one.label) for one in allowed),
            }
        )


@transaction.atomic
def start(order: WorkOrder, *, by: Person, now: datetime) -> WorkOrder:
    """Take the bow to the bench under this order."""
    if order.status == OrderStatus.IN_WORK:
        return order
    _require(order, OrderStatus.ISSUED)
    record.take_to_bench(by=by, bow=order.bow, order_number=order.number, at=now)
    order.status, order.started_at = OrderStatus.IN_WORK, now
    order.save(update_fields=["status", "started_at"])
    return order


@transaction.atomic
def enter(
    order: WorkOrder,
    *,
    by: Person,
    now: datetime,
    readings: Iterable[TypedReading],
    cords: Iterable[TypedCord],
    steps_done: Iterable[int],
    note: str,
) -> WorkOrder:
    """Keep what was typed so far; starts the order if nobody has. May be called as often as wished."""
    start(order, by=by, now=now)
    _require(order, OrderStatus.IN_WORK)
    tools = {tool.code: tool for tool in MeasuringTool.objects.filter(site=order.site)}
    for reading in readings:
        _check_reading(order, reading, tools)
        OrderReading.objects.update_or_create(
            order=order,
            kind=reading.kind,
            position=reading.position,
            defaults={
                "as_found": reading.as_found,
                "as_left": reading.as_left,
                "tool": tools.get(reading.tool_code),
                "read_twice": reading.read_twice,
            },
        )
    for cord in cords:
        _keep_cord(order, cord)
    order.steps_done = sorted(set(steps_done))
    order.note = note
    order.save(update_fields=["steps_done", "note"])
    return order


def _check_reading(order: WorkOrder, reading: TypedReading, tools: dict[str, MeasuringTool]) -> None:
    if reading.kind not in MEASUREMENTS:
        raise Refused(
            _("measurement '%(kind)s' is not one of %(MEASUREMENTS)s.")
            % {"kind": reading.kind, "MEASUREMENTS": ", ".join(MEASUREMENTS)}
        )
    for value in (reading.as_found, reading.as_left):
        if value is not None:
            MEASUREMENTS[reading.kind].check(value)
    if reading.tool_code and reading.tool_code not in tools:
        there = ", ".join(sorted(tools)) or "none yet"
        raise Refused(
            _("tool '%(tool_code)s' is not one of %(site)s's tools: %(there)s.")
            % {"tool_code": reading.tool_code, "site": order.site, "there": there}
        )


def _keep_cord(order: WorkOrder, cord: TypedCord) -> None:
    allowed = POSITIONS_BY_CAM_SYSTEM[order.bow.spec_sheet.cam_system]
    if cord.position not in allowed:
        raise Refused(
            _("%(tag)s has no %(position)s: its positions are %(allowed)s.")
            % {"tag": order.bow.tag, "position": cord.position, "allowed": ", ".join(allowed)}
        )
    if cord.half_twists is not None:
        HALF_TWISTS.check(cord.half_twists)
    if cord.removed_why and cord.removed_why not in RemovalReason.values:
        raise Refused(
            _("reason '%(removed_why)s' is not one of %(values)s.")
            % {"removed_why": cord.removed_why, "values": ", ".join(RemovalReason.values)}
        )
    if cord.finding and cord.finding not in Finding.values:
        raise Refused(
            _("finding '%(finding)s' is not one of %(values)s.")
            % {"finding": cord.finding, "values": ", ".join(Finding.values)}
        )
    OrderCord.objects.update_or_create(
        order=order,
        position=cord.position,
        defaults={
            "replaced": cord.replaced,
            "removed_why": cord.removed_why,
            "finding": cord.finding,
            "new_spec": cord.new_spec,
            "new_serial": cord.new_serial,
            "new_lot": cord.new_lot,
            "half_twists": cord.half_twists,
        },
    )


@transaction.atomic
def cancel(order: WorkOrder, *, by: Person, why: str, now: datetime) -> WorkOrder:
    """Give an order up before it is signed; what holds the bow still holds it."""
    _require(order, OrderStatus.ISSUED, OrderStatus.IN_WORK)
    if not why.strip():
        raise Refused(_("Say why the order is cancelled: it stays in the book."))
    record.leave_bench(by=by, bow=order.bow, order_number=order.number, at=now)
    order.status, order.closed_at, order.note = OrderStatus.CANCELLED, now, f"{order.note}\n{why}".strip()
    order.save(update_fields=["status", "closed_at", "note"])
    record.note_order(by=by, bow=order.bow, order_number=order.number, step="cancelled", why=why.strip())
    return order
