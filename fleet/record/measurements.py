"""Verbs on measuring tools, reference sets and signed results."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Max
from django.utils.translation import gettext as _

from fleet.models import (
    Bow,
    MeasuringTool,
    Person,
    ReferenceMeasurement,
    ReferenceSet,
    ResultMeasurement,
    SignedResult,
    Site,
)
from fleet.ranges import MEASUREMENTS
from fleet.record.kernel import add, audit, not_in_future, put, touch, verb
from fleet.record.specs import ReferenceValue
from fleet.refusal import Refused
from fleet.signed_contents import seal_of
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, MeasurementKind, Origin, ToolKind


@dataclass(frozen=True)
class Reading:
    """One measurement as found and as left (SI by the kind's dimension; None = not taken)."""

    kind: str
    as_found: float | None
    as_left: float | None
    position: str = ""
    tool_code: str = ""


@verb
def put_tool(*, by: Person, code: str, site: Site, kind: str, **values: Any) -> MeasuringTool:
    """Add a measuring tool, or change its resolution or calibration date."""
    if kind not in ToolKind.values:
        raise Refused(
            _("tool kind '%(kind)s' is not one of %(values)s.") % {"kind": kind, "values": ", ".join(ToolKind.values)}
        )
    tool = MeasuringTool.objects.filter(code=code).first() or MeasuringTool(code=code)
    changed = put(tool, {"site": site, "kind": kind, **values})
    if changed:
        audit(by, "put_tool", tool, code=code, changed=changed)
    return tool


@verb
def record_reference_set(
    *, by: Person, bow: Bow, origin: str, taken_at: datetime, values: list[ReferenceValue], now: datetime
) -> ReferenceSet:
    """Record a new version of a bow's reference measurements; it becomes the current one.

    The same values again, from the same origin, are the version that is already there.
    """
    not_in_future(f"{bow.tag}: references taken", taken_at, now)
    if origin not in Origin.values:
        raise Refused(
            _("origin '%(origin)s' is not one of %(values)s.") % {"origin": origin, "values": ", ".join(Origin.values)}
        )
    if not values:
        raise Refused(_("%(tag)s: a reference set needs at least one measurement.") % {"tag": bow.tag})
    for value in values:
        value.checked()
    _check_each_once(bow, [(value.kind, value.position) for value in values])
    current = ReferenceSet.objects.filter(bow=bow, current=True).first()
    if current is not None and current.origin == origin and _same_values(current, values):
        return current
    version = (ReferenceSet.objects.filter(bow=bow).aggregate(last=Max("version"))["last"] or 0) + 1
    ReferenceSet.objects.filter(bow=bow, current=True).update(current=False)
    reference_set = add(ReferenceSet(bow=bow, version=version, origin=origin, taken_at=taken_at, taken_by=by))
    tools = _tools([value.tool_code for value in values])
    ReferenceMeasurement.objects.bulk_create(
        ReferenceMeasurement(
            reference_set=reference_set,
            kind=value.kind,
            position=value.position,
            value=value.value,
            tolerance=value.tolerance,
            tool=tools.get(value.tool_code),
        )
        for value in values
    )
    audit(by, "record_reference_set", reference_set, bow=bow, version=version, origin=origin, count=len(values))
    touch([bow.pk])
    return reference_set


def _check_each_once(bow: Bow, measured: list[tuple[str, str]]) -> None:
    """Refuse a measurement given twice, or taken of a cord that the bow has not."""
    allowed = POSITIONS_BY_CAM_SYSTEM[bow.spec_sheet.cam_system]
    for kind, position in measured:
        words = f"{MeasurementKind(kind).label}{f' of the {position}' if position else ''}"
        if position and position not in allowed:
            raise Refused(
                _("%(tag)s: %(words)s: its positions are %(allowed)s.")
                % {"tag": bow.tag, "words": words, "allowed": ", ".join(allowed)}
            )
        if measured.count((kind, position)) > 1:
            raise Refused(
                _("%(tag)s: %(words)s is given more than once: keep the last one measured.")
                % {"tag": bow.tag, "words": words}
            )


def _tools(codes: list[str]) -> dict[str, MeasuringTool]:
    """The tools with these codes (an empty code is no tool); refused if one is not in the book."""
    wanted = {code for code in codes if code}
    tools = {tool.code: tool for tool in MeasuringTool.objects.filter(code__in=wanted).select_related("site")}
    if missing := wanted - set(tools):
        raise Refused(
            _("tool '%(missing)s' is not in the book: add it first, or correct its code.")
            % {"missing": sorted(missing)[0]}
        )
    return tools


def _same_values(current: ReferenceSet, values: list[ReferenceValue]) -> bool:
    # Values arrive rounded in the shop's units; a nanometre apart is the same measurement.
    there = {(m.kind, m.position): (round(m.value, 9), round(m.tolerance, 9)) for m in current.measurements.all()}
    return there == {(v.kind, v.position): (round(v.value, 9), round(v.tolerance, 9)) for v in values}


@verb
def sign_result(
    *,
    by: Person,
    bow: Bow,
    order_number: str,
    reference_set: ReferenceSet,
    readings: list[Reading],
    work: list[Any],
    cords_changed: list[Any],
    steps_done: list[Any],
    at: datetime,
    note: str = "",
) -> SignedResult:
    """Sign what was found, done and left under a work order. The orders package decides whether it may close."""
    if SignedResult.objects.filter(order_number=order_number).exists():
        raise Refused(
            _("order %(order_number)s is already signed: open a new order for further work.")
            % {"order_number": order_number}
        )
    if reference_set.bow_id != bow.pk:
        raise Refused(
            _("order %(order_number)s: the reference set is of %(bow)s, not of %(tag)s.")
            % {"order_number": order_number, "bow": reference_set.bow, "tag": bow.tag}
        )
    for reading in readings:
        _check_reading(reading)
    _check_each_once(bow, [(reading.kind, reading.position) for reading in readings])
    result = add(
        SignedResult(
            order_number=order_number,
            bow=bow,
            reference_set=reference_set,
            work=work,
            cords_changed=cords_changed,
            steps_done=steps_done,
            note=note,
            signed_at=at,
            performed_by=by,
        )
    )
    tools = _tools([reading.tool_code for reading in readings])
    ResultMeasurement.objects.bulk_create(
        _result_measurement(result, reading, tools.get(reading.tool_code), at) for reading in readings
    )
    told = {"order_number": order_number, "readings": len(readings)}
    audit(by, "sign_result", result, bow=bow, **told, contents=seal_of(result))
    touch([bow.pk])
    return result


def _check_reading(reading: Reading) -> None:
    if reading.kind not in MEASUREMENTS:
        raise Refused(
            _("measurement '%(kind)s' is not one of %(kinds)s.")
            % {"kind": reading.kind, "kinds": ", ".join(MEASUREMENTS)}
        )
    for value in (reading.as_found, reading.as_left):
        if value is not None:
            MEASUREMENTS[reading.kind].check(value)


def _result_measurement(
    result: SignedResult, reading: Reading, tool: MeasuringTool | None, at: datetime
) -> ResultMeasurement:
    overdue = False
    if tool is not None and tool.calibration_due_on is not None:
        overdue = tool.calibration_due_on < at.astimezone(ZoneInfo(tool.site.time_zone)).date()
    return ResultMeasurement(
        result=result,
        kind=reading.kind,
        position=reading.position,
        as_found=reading.as_found,
        as_left=reading.as_left,
        tool=tool,
        tool_overdue=overdue,
    )


@verb
def sign_release(*, by: Person, result: SignedResult, at: datetime) -> SignedResult:
    """Put the releaser's name under a signed result."""
    result = SignedResult.objects.select_for_update(of=("self",)).select_related("bow").get(pk=result.pk)
    if result.released_by_id is not None:
        raise Refused(
            _("order %(order_number)s was already released by %(released_by)s.")
            % {"order_number": result.order_number, "released_by": result.released_by}
        )
    result.released_by, result.released_at = by, at
    result.save(update_fields=["released_by", "released_at"])
    audit(by, "sign_release", result, bow=result.bow, order_number=result.order_number, contents=seal_of(result))
    return result
