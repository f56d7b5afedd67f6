"""The order entry form: typed text -> readings and cords in SI, every slip named beside its field, nothing lost."""

from dataclasses import dataclass, field
from typing import Any

from django.http import QueryDict

from fleet.models import CordSpec
from fleet.ranges import HALF_TWISTS, MEASUREMENTS
from fleet.vocabulary import Finding, RemovalReason
from service.measuring import WHERE_TO_MEASURE
from service.models import OrderCord, OrderReading, WorkOrder
from service.orders.wording import label, measured, off_by, shown_dimension
from service.orders.work import TypedCord, TypedReading
from service.timing.tolerance import BENCH_SHARE, ROUNDING_SI
from service.units import QuantityError, Units, format_tolerance, read_quantity, unit_shown


@dataclass
class Box:
    """One field: its name in the form, the text in it, what is kept and how that reads, and what is wrong with it."""

    name: str
    text: str = ""
    error: str = ""
    kept: float | None = None
    kept_text: str = ""


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
    found_off: str = ""
    left_off: str = ""
    left_inside: bool | None = None


@dataclass
class CordLine:
    """One position with what was done to its cord."""

    position: str
    name: str
    fitted: str
    specs: list[CordSpec]
    entry: OrderCord
    half_twists: Box
    prefix: str


@dataclass
class OrderForm:
    """The whole form of an order, filled from what is kept and what was just typed."""

    order: WorkOrder
    lines: list[MeasurementLine] = field(default_factory=list)
    cords: list[CordLine] = field(default_factory=list)
    readings: list[TypedReading] = field(default_factory=list)
    typed_cords: list[TypedCord] = field(default_factory=list)

    @property
    def errors(self) -> list[str]:
        """Every slip of the form, for the summary at its head."""
        boxes = [box for line in self.lines for box in (line.found, line.left)]
        boxes += [cord.half_twists for cord in self.cords]
        return [box.error for box in boxes if box.error]


def form_of(order: WorkOrder, data: QueryDict | None = None) -> OrderForm:
    """The form of an order; with `data`, the typed text stands in its boxes and is read."""
    form, system = OrderForm(order), Units(order.site.units)
    kept = {(one.kind, one.position): one for one in order.readings.select_related("tool")}
    for row in order.frozen["measurements"]:
        line = _line(row, kept.get((row["kind"], row["position"])), system, data)
        form.lines.append(line)
        form.readings.append(_read_line(line, row, system))
    entries = {entry.position: entry for entry in order.cords.select_related("new_spec")}
    for row in order.frozen["cords"]:
        cord = _cord_line(order, row, entries.get(row["position"]), data)
        form.cords.append(cord)
        form.typed_cords.append(_read_cord(cord, data))
    return form


def _line(row: dict[str, Any], kept: OrderReading | None, system: Units, data: QueryDict | None) -> MeasurementLine:
    kind, position = row["kind"], row["position"]
    key = f"{kind}-{position}" if position else kind
    tool = (kept.tool.code if kept and kept.tool else row["tool"]) or ""
    line = MeasurementLine(
        kind=kind,
        position=position,
        name=label(kind, position),
        where=str(WHERE_TO_MEASURE[kind]),
        reference=measured(kind, row["value"], system),
        bench_tolerance=format_tolerance(row["tolerance"] * BENCH_SHARE, shown_dimension(kind), system),
        found=_box(f"found-{key}", kind, kept.as_found if kept else None, system),
        left=_box(f"left-{key}", kind, kept.as_left if kept else None, system),
        tool=tool,
        tool_name=f"tool-{key}",
    )
    if data is not None:
        line.found.text = data.get(line.found.name, line.found.text)
        line.left.text = data.get(line.left.name, line.left.text)
        line.tool = data.get(line.tool_name, line.tool)
    return line


def _box(name: str, kind: str, kept: float | None, system: Units) -> Box:
    text = "" if kept is None else measured(kind, kept, system)
    return Box(name, text, kept=kept, kept_text=text)


def _read_line(line: MeasurementLine, row: dict[str, Any], system: Units) -> TypedReading:
    found, left = _read_box(line.found, line, system), _read_box(line.left, line, system)
    if found is not None:
        line.found_off = off_by(line.kind, found - row["value"], system)
    if left is not None:
        line.left_off = off_by(line.kind, left - row["value"], system)
        line.left_inside = abs(left - row["value"]) - row["tolerance"] * BENCH_SHARE <= ROUNDING_SI
    return TypedReading(line.kind, found, left, line.position, line.tool)


def _read_box(box: Box, line: MeasurementLine, system: Units) -> float | None:
    if not box.text.strip():
        return None
    if box.text == box.kept_text:
        # Shown rounded to what a rule reads; saving it again must not round what was typed.
        return box.kept
    allowed = MEASUREMENTS[line.kind]
    try:
        return read_quantity(
            box.text,
            unit_shown(shown_dimension(line.kind), system),
            name=line.name,
            low=allowed.low,
            high=allowed.high,
        )
    except QuantityError as problem:
        box.error = str(problem)
        return None


def _cord_line(order: WorkOrder, row: dict[str, Any], kept: OrderCord | None, data: QueryDict | None) -> CordLine:
    position = row["position"]
    specs = list(CordSpec.objects.filter(position=position, fits__spec_sheet=order.bow.spec_sheet).distinct())
    entry = kept or OrderCord(order=order, position=position, replaced=row["replace"])
    if kept is None and specs:
        entry.new_spec = specs[0]
    prefix = f"cord-{position}"
    half = Box(f"{prefix}-half_twists", "" if entry.half_twists is None else str(entry.half_twists))
    if data is not None:
        entry.replaced = f"{prefix}-replaced" in data
        entry.removed_why = data.get(f"{prefix}-why", "")
        entry.finding = data.get(f"{prefix}-finding", "")
        entry.new_serial = data.get(f"{prefix}-serial", "").strip()
        entry.new_lot = data.get(f"{prefix}-lot", "").strip()
        wanted = data.get(f"{prefix}-spec", "")
        entry.new_spec = next((spec for spec in specs if spec.code == wanted), None)
        half.text = data.get(half.name, "").strip()
    name = position.replace("_", " ")
    fitted = f"{row['spec']}, {row['serial']}"
    return CordLine(position, name, fitted, specs, entry, half, prefix)


def _read_cord(cord: CordLine, data: QueryDict | None) -> TypedCord:
    half_twists: int | None = None
    if cord.half_twists.text:
        try:
            half_twists = int(cord.half_twists.text)
            HALF_TWISTS.check(half_twists)
        except ValueError as problem:
            half_twists = None
            plain = isinstance(problem, ValueError) and not str(problem).startswith("twists")
            cord.half_twists.error = (
                f"{cord.name}: {cord.half_twists.text!r} is not a count of half turns; give a whole number 0 to 200."
                if plain
                else str(problem)
            )
    entry = cord.entry
    return TypedCord(
        cord.position,
        entry.replaced,
        entry.removed_why if entry.removed_why in RemovalReason.values else "",
        entry.finding if entry.finding in Finding.values else "",
        entry.new_spec,
        entry.new_serial,
        entry.new_lot,
        half_twists,
    )
