"""The draw board of one order: what the scale and the stops say, worked out as it is typed, kept as its readings."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from fleet.models import MeasuringTool
from fleet.ranges import MEASUREMENTS, Range
from fleet.refusal import Refused
from fleet.vocabulary import CamSystem, MeasurementKind, Role, ToolKind
from service.models import OrderReading, OrderStatus, WorkOrder
from service.orders import work
from service.orders.draw_board import (
    FIRST_STOPS,
    BoardReadings,
    BoardSays,
    board_says,
    bolt_advice,
    speaks_against_drawing,
)
from service.orders.steps import references_of
from service.orders.wording import measured, shown_dimension
from service.orders.work import TypedReading
from service.pages.access import Here, order_page
from service.pages.boxes import Box, box_of, read_within
from service.timing.tolerance import Reference
from service.units import Units

EDITABLE = (OrderStatus.ISSUED, OrderStatus.IN_WORK)
BY_SCALE = (MeasurementKind.PEAK_WEIGHT, MeasurementKind.HOLDING_WEIGHT, MeasurementKind.LET_OFF)
TYPED = (
    MeasurementKind.PEAK_WEIGHT,
    MeasurementKind.HOLDING_WEIGHT,
    MeasurementKind.DRAW_LENGTH,
    MeasurementKind.STOP_SYNC,
    MeasurementKind.LIMB_BOLT_TURNS,
)
# The gap is typed without its sign; which stop touches first gives it.
GAP = Range("gap at the second stop", 0.0, MEASUREMENTS[MeasurementKind.STOP_SYNC].high, "m")
MOMENTS = ("found", "left")


@dataclass
class Moment:
    """The fields of one moment, as found or as left, and what they say."""

    name: str
    title: str
    boxes: dict[str, Box]
    first_stop: str
    says: BoardSays | None = None
    read: BoardReadings = field(default_factory=BoardReadings)


@order_page(Role.TECHNICIAN)
def draw_board(request: HttpRequest, here: Here, order: WorkOrder) -> HttpResponseBase:
    """Show the board, say what is typed so far (htmx), or keep it as readings of the order."""
    editable = order.status in EDITABLE
    data = request.POST if request.method == "POST" and editable else None
    moments = [_moment(order, name, data) for name in MOMENTS]
    content = _content(order, here, moments, data)
    if request.method != "POST":
        return render(request, "bench/draw_board.html", content)
    if request.headers.get("HX-Request"):
        return render(request, "bench/board_says.html", content)
    try:
        _keep(order, here, moments, content["tools"])
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
        return render(request, "bench/draw_board.html", content)
    if content["slips"]:
        return render(request, "bench/draw_board.html", content, status=422)
    messages.success(request, _("Kept as readings of order %(number)s.") % {"number": order.number}, extra_tags="good")
    return redirect("draw-board", number=order.number)


def _content(order: WorkOrder, here: Here, moments: list[Moment], data: QueryDict | None) -> dict[str, object]:
    references: dict[str, Reference] = {str(one.kind): one for one in references_of(order.reference_set)}
    system = Units(order.site.units)
    for moment in moments:
        moment.says = board_says(moment.read, references, system)
    latest = moments[1].read.peak_n if moments[1].read.peak_n is not None else moments[0].read.peak_n
    cams = order.bow.spec_sheet.cam_system
    return {
        "order": order,
        "moments": moments,
        "rows": [_row(kind, moments, references, system) for kind in _kinds(cams)],
        "found": speaks_against_drawing(order),
        "bolts": bolt_advice(order.bow, latest, references, system),
        "has_stops": cams not in ("", CamSystem.SINGLE),
        "slips": [box for moment in moments for box in moment.boxes.values() if box.error],
        "editable": order.status in EDITABLE,
        "tools": _tools(order, data),
    }


Row = tuple[MeasurementKind, dict[str, str], list[Box]]


def _row(kind: str, moments: list[Moment], references: Mapping[str, Reference], system: Units) -> Row:
    """One measurement: its reference in the site's units, where taps start from, and its box of each moment."""
    reference = references.get(kind)
    line: dict[str, str] = {} if reference is None else {"reference": measured(kind, reference.value_si, system)}
    return MeasurementKind(kind), line, [moment.boxes[kind] for moment in moments]


def _kinds(cam_system: str) -> list[str]:
    """What is read on the board: a bow without cams has no valley to hold in, and one stop has none to match."""
    left_out = set()
    if cam_system in ("", CamSystem.SINGLE):
        left_out.add(MeasurementKind.STOP_SYNC)
    if not cam_system:
        left_out.add(MeasurementKind.HOLDING_WEIGHT)
    return [str(kind) for kind in TYPED if kind not in left_out]


def _tools(order: WorkOrder, data: QueryDict | None) -> dict[str, dict[str, object]]:
    """The scale and the draw board to choose from, with the one chosen or used last under this order."""
    found: dict[str, dict[str, object]] = {}
    kept = {
        one.tool.kind: one.tool.code for one in order.readings.exclude(tool=None).select_related("tool") if one.tool
    }
    for kind in (ToolKind.SCALE, ToolKind.DRAW_BOARD):
        codes = list(MeasuringTool.objects.filter(site=order.site, kind=kind).values_list("code", flat=True))
        chosen = data.get(f"tool-{kind}", "") if data is not None else kept.get(kind) or (codes[0] if codes else "")
        found[str(kind)] = {"title": kind.label, "codes": codes, "chosen": chosen if chosen in codes else ""}
    return found


def _moment(order: WorkOrder, name: str, data: QueryDict | None) -> Moment:
    system = Units(order.site.units)
    kept = {one.kind: _of(one, name) for one in order.readings.filter(kind__in=TYPED, position="")}
    title = _("as found") if name == "found" else _("as left")
    boxes: dict[str, Box] = {}
    sync = kept.get(MeasurementKind.STOP_SYNC)
    for kind in TYPED:
        value = kept.get(kind)
        shown = abs(value) if kind is MeasurementKind.STOP_SYNC and value is not None else value
        box = box_of(f"{name}-{kind}", f"{kind.label}, {title}", kind, shown, system)
        if data is not None:
            box.text = data.get(box.name, "")
        boxes[str(kind)] = box
    first = "" if sync is None else "together" if sync == 0 else "upper" if sync > 0 else "lower"
    if data is not None:
        asked = data.get(f"{name}-first_stop", "")
        first = asked if asked in FIRST_STOPS else ""
    moment = Moment(name, title, boxes, first)
    moment.read = _read(moment, system)
    return moment


def _of(reading: OrderReading, moment: str) -> float | None:
    return reading.as_found if moment == "found" else reading.as_left


def _read(moment: Moment, system: Units) -> BoardReadings:
    values: dict[str, float | None] = {}
    for kind in TYPED:
        allowed = GAP if kind is MeasurementKind.STOP_SYNC else MEASUREMENTS[kind]
        values[kind] = read_within(moment.boxes[str(kind)], shown_dimension(kind), allowed, system)
    return BoardReadings(
        peak_n=values[MeasurementKind.PEAK_WEIGHT],
        holding_n=values[MeasurementKind.HOLDING_WEIGHT],
        draw_m=values[MeasurementKind.DRAW_LENGTH],
        gap_m=values[MeasurementKind.STOP_SYNC],
        first_stop=moment.first_stop,
        bolt_turns=values[MeasurementKind.LIMB_BOLT_TURNS],
    )


def _keep(order: WorkOrder, here: Here, moments: list[Moment], tools: object) -> None:
    """Every reading of the board goes to the order, and what was worked out with it; an emptied field is emptied."""
    found, left = (moment.says.values if moment.says else {} for moment in moments)
    chosen = {kind: str(one["chosen"]) for kind, one in tools.items()} if isinstance(tools, dict) else {}
    there = set(order.readings.filter(position="").values_list("kind", flat=True))
    kinds = {*found, *left, *(there & {*TYPED, MeasurementKind.LET_OFF})}
    readings = [
        TypedReading(
            kind,
            found.get(kind),
            left.get(kind),
            tool_code=_tool_for(kind, chosen),
        )
        for kind in MeasurementKind.values
        if kind in kinds
    ]
    work.enter(
        order,
        by=here.person,
        now=datetime.now(UTC),
        readings=readings,
        cords=[],
        steps_done=order.steps_done,
        note=order.note,
    )


def _tool_for(kind: str, chosen: dict[str, str]) -> str:
    if kind == MeasurementKind.LIMB_BOLT_TURNS:
        return ""
    return chosen.get(ToolKind.SCALE if kind in BY_SCALE else ToolKind.DRAW_BOARD, "")
