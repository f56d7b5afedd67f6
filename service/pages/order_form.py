"""The order entry form: typed text -> readings and cords in SI, every slip named beside its field, nothing lost.

A field that cannot be read keeps its text on the page, and what was kept of it before stays as it is.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.http import QueryDict
from django.utils.translation import gettext as _

from fleet.models import CordSpec
from fleet.ranges import HALF_TWISTS
from fleet.vocabulary import Finding, Position, RemovalReason
from service.closed_orders import TURNS_PER_HALF_TURN
from service.measuring import WHERE_TO_MEASURE
from service.models import OrderCord, OrderReading, WorkOrder
from service.orders.wording import label, measured, off_as_read, shown_dimension
from service.orders.work import TypedCord, TypedReading
from service.pages.boxes import Box, box_of, read_box
from service.timing.tolerance import BENCH_SHARE, ROUNDING_SI
from service.units import Units, format_tolerance


@dataclass
class MeasurementLine:
    """One reference measurement with its two boxes and how they stand against it."""

    kind: str
    position: str
    name: str
    where: str
    reference: str
    bench_tolerance: str
    found: Box
    left: Box
    tool: str
    tool_name: str
    key: str
    read_twice: bool = False
    found_off: str = ""
    left_off: str = ""
    left_inside: bool | None = None

    @property
    def twice_name(self) -> str:
        """The name of the box that says that it was read a second time."""
        return f"twice-{self.key}"


@dataclass
class CordLine:
    """One position with what was done to its cord."""

    position: str
    name: str
    fitted: str
    twists: str
    specs: list[CordSpec]
    entry: OrderCord
    half_twists: Box
    prefix: str


@dataclass
class Step:
    """One step of the order and whether it is ticked."""

    number: int
    text: str
    done: bool


@dataclass
class OrderForm:
    """The whole form of an order, filled from what is kept and what was just typed."""

    order: WorkOrder
    lines: list[MeasurementLine] = field(default_factory=list)
    cords: list[CordLine] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)
    note: str = ""
    why: str = ""
    readings: list[TypedReading] = field(default_factory=list)
    typed_cords: list[TypedCord] = field(default_factory=list)

    @property
    def slips(self) -> list[Box]:
        """Every field that could not be read, for the summary at the form's head."""
        boxes = [box for line in self.lines for box in (line.found, line.left)]
        boxes += [cord.half_twists for cord in self.cords]
        return [box for box in boxes if box.error]

    @property
    def steps_done(self) -> list[int]:
        """The numbers of the ticked steps."""
        return [step.number for step in self.steps if step.done]


def form_of(order: WorkOrder, data: QueryDict | None = None) -> OrderForm:
    """The form of an order; with `data`, the typed text stands in its boxes and is read."""
    form, system = OrderForm(order, note=order.note), Units(order.site.units)
    kept = {(one.kind, one.position): one for one in order.readings.select_related("tool")}
    for row in order.frozen["measurements"]:
        line = _line(row, kept.get((row["kind"], row["position"])), system, data)
        form.lines.append(line)
        form.readings.append(_read_line(line, row, system))
    entries = {entry.position: entry for entry in order.cords.select_related("new_spec")}
    specs = _specs_by_position(order)
    for row in order.frozen["cords"]:
        cord = _cord_line(order, row, specs[row["position"]], entries.get(row["position"]), data)
        form.cords.append(cord)
        form.typed_cords.append(_read_cord(cord))
    done = order.steps_done
    if data is not None:
        done = [int(number) for number in data.getlist("step") if number.isascii() and number.isdigit()]
        form.note, form.why = data.get("note", ""), data.get("why", "")
    form.steps = [Step(number, text, number in done) for number, text in enumerate(order.frozen["steps"])]
    return form


def _line(row: dict[str, Any], kept: OrderReading | None, system: Units, data: QueryDict | None) -> MeasurementLine:
    kind, position = row["kind"], row["position"]
    key = f"{kind}-{position}" if position else kind
    name = label(kind, position)
    tool = (kept.tool.code if kept and kept.tool else row["tool"]) or ""
    line = MeasurementLine(
        kind=kind,
        position=position,
        name=name,
        where=str(WHERE_TO_MEASURE[kind]),
        reference=measured(kind, row["value"], system),
        bench_tolerance=format_tolerance(row["tolerance"] * BENCH_SHARE, shown_dimension(kind), system),
        found=box_of(
            f"found-{key}", _("%(name)s, as found") % {"name": name}, kind, kept.as_found if kept else None, system
        ),
        left=box_of(
            f"left-{key}", _("%(name)s, as left") % {"name": name}, kind, kept.as_left if kept else None, system
        ),
        tool=tool,
        tool_name=f"tool-{key}",
        key=key,
        read_twice=kept is not None and kept.read_twice,
    )
    if data is not None:
        line.read_twice = line.twice_name in data
        line.found.text = data.get(line.found.name, line.found.text)
        line.left.text = data.get(line.left.name, line.left.text)
        line.tool = data.get(line.tool_name, line.tool)
    return line


def _read_line(line: MeasurementLine, row: dict[str, Any], system: Units) -> TypedReading:
    found, left = read_box(line.found, line.kind, system), read_box(line.left, line.kind, system)
    if found is not None and not line.found.error:
        line.found_off = off_as_read(line.kind, found - row["value"], system)
    if left is not None and not line.left.error:
        line.left_off = off_as_read(line.kind, left - row["value"], system)
        line.left_inside = abs(left - row["value"]) - row["tolerance"] * BENCH_SHARE <= ROUNDING_SI
    return TypedReading(line.kind, found, left, line.position, line.tool, line.read_twice)


def _specs_by_position(order: WorkOrder) -> Mapping[str, list[CordSpec]]:
    specs: dict[str, list[CordSpec]] = defaultdict(list)
    for spec in CordSpec.objects.filter(fits__spec_sheet=order.bow.spec_sheet).distinct().order_by("code"):
        specs[spec.position].append(spec)
    return specs


def _cord_line(
    order: WorkOrder, row: dict[str, Any], specs: list[CordSpec], kept: OrderCord | None, data: QueryDict | None
) -> CordLine:
    position = row["position"]
    name = str(Position(position).label)
    entry = kept or OrderCord(order=order, position=position, replaced=row["replace"])
    if kept is None and specs:
        entry.new_spec = specs[0]
    prefix = f"cord-{position}"
    text = "" if entry.half_twists is None else str(entry.half_twists)
    title = _("%(cord)s, twists now") % {"cord": name}
    half = Box(f"{prefix}-half_twists", title, text, kept=entry.half_twists)
    if data is not None:
        _fill_entry(entry, prefix, specs, data)
        half.text = data.get(half.name, "").strip()
    fitted = f"{row['spec']}, {row['serial']}"
    return CordLine(position, name, fitted, _twists_so_far(row), specs, entry, half, prefix)


def _fill_entry(entry: OrderCord, prefix: str, specs: list[CordSpec], data: QueryDict) -> None:
    """What was typed of a cord; a word that is in no list is not taken for one."""
    why, finding, wanted = (data.get(f"{prefix}-{name}", "") for name in ("why", "finding", "spec"))
    entry.replaced = f"{prefix}-replaced" in data
    entry.removed_why = why if why in RemovalReason.values else ""
    entry.finding = finding if finding in Finding.values else ""
    entry.new_serial = data.get(f"{prefix}-serial", "").strip()
    entry.new_lot = data.get(f"{prefix}-lot", "").strip()
    entry.new_spec = next((spec for spec in specs if spec.code == wanted), None)


def _twists_so_far(row: dict[str, Any]) -> str:
    """The twists on record, in half turns as they are typed."""
    parts = []
    if row["half_twists"] is not None:
        parts.append(_("now %(count)d on record") % {"count": row["half_twists"]})
    if row["reference_turns"] is not None:
        half_turns = round(row["reference_turns"] / TURNS_PER_HALF_TURN)
        parts.append(_("a new cord: %(count)d by the reference") % {"count": half_turns})
    return "; ".join(parts)


def _read_cord(cord: CordLine) -> TypedCord:
    entry = cord.entry
    return TypedCord(
        cord.position,
        entry.replaced,
        entry.removed_why,
        entry.finding,
        entry.new_spec,
        entry.new_serial,
        entry.new_lot,
        _read_half_twists(cord.half_twists),
    )


def _read_half_twists(box: Box) -> int | None:
    """A count of half turns; a slip leaves what was kept before."""
    if not box.text:
        return None
    kept = None if box.kept is None else int(box.kept)
    try:
        count = int(box.text)
    except ValueError:
        box.error = _(
            "%(title)s: '%(text)s' is not a count of half turns. Count them and type %(low)d to %(high)d."
        ) % {
            "title": box.title,
            "text": box.text,
            "low": HALF_TWISTS.low,
            "high": HALF_TWISTS.high,
        }
        return kept
    if not HALF_TWISTS.low <= count <= HALF_TWISTS.high:
        box.error = _("%(title)s: %(count)d half turns is outside %(low)d to %(high)d. Count them again.") % {
            "title": box.title,
            "count": count,
            "low": HALF_TWISTS.low,
            "high": HALF_TWISTS.high,
        }
        return kept
    return count
