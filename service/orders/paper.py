"""Issued orders -> what goes on paper. Everything comes from the frozen contents, so a reprint is the same sheet.

What was measured since stands in its boxes while the order is open, beside the diagnosis that rests on it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils.translation import gettext as _

from fleet import lookups
from fleet.models import CordSpec, MeasuringTool, Site
from fleet.vocabulary import BowKind, CamSystem, Hand, Origin, Position
from service.assumed import told
from service.measuring import WHERE_TO_MEASURE
from service.models import NeedKind, OrderStatus, WorkOrder
from service.orders.bench_timing import bench_timing
from service.orders.wording import label, shown_dimension
from service.printing.sheets import (
    BowFacts,
    CordRow,
    LifeUsed,
    MeasurementRow,
    PartLine,
    QueueCover,
    QueueLine,
    Reason,
    ReferenceOrigin,
    TimingNote,
    WorkOrderSheet,
)
from service.schedule import bench_people, minutes_on
from service.timing.drawboard import amo_draw_length_m
from service.timing.tolerance import BENCH_SHARE
from service.units import Units, format_twists
from service.wear import life
from service.wording import short_day

TO_BE_DONE = (OrderStatus.ISSUED, OrderStatus.IN_WORK)


def address_of(order: WorkOrder) -> str:
    """The address that the code on the sheet opens."""
    return f"{settings.PUBLIC_URL}/orders/{order.number}/"


def sheet_of(order: WorkOrder) -> WorkOrderSheet:
    """The bench sheet of an order."""
    frozen: dict[str, Any] = order.frozen
    return WorkOrderSheet(
        number=order.number,
        shop=order.site.name,
        site=order.site.code,
        units=Units(order.site.units),
        planned_on=order.day,
        technician=str(order.technician or ""),
        minutes=order.minutes,
        bow=_bow(frozen["bow"]),
        reasons=tuple(Reason(str(NeedKind(one["kind"]).label), one["why"]) for one in frozen["reasons"]),
        likely_cause=frozen.get("likely_cause", ""),
        reference=_reference(order, frozen["reference"]),
        measurements=_measurements(order),
        # Orders issued before each cord said so itself have it for the sheet as a whole.
        cords=tuple(_cord({"assumed": bool(frozen["assumed"]), **row}) for row in frozen["cords"]),
        steps=tuple(frozen["steps"]),
        parts=_parts(order.site, frozen["parts"]),
        warnings=tuple(_warnings(frozen)),
        assumed=tuple(told(frozen["assumed"])),
        second_person=_("A second person checks and releases this work.") if frozen["second_person"] else "",
        url=address_of(order),
        bow_kind=frozen["bow"]["kind"],
        diagnosis=_diagnosis(order),
    )


def _diagnosis(order: WorkOrder) -> TimingNote | None:
    """What the readings kept so far say. Only while the order is open: a closed one prints as it was issued."""
    if order.status not in TO_BE_DONE:
        return None
    try:
        timing = bench_timing(order)
    except ValueError as problem:
        return TimingNote((str(problem),), (), (), "")
    if timing is None:
        return None
    expected = tuple((one.name, one.reference, one.found, one.expected) for one in timing.expected)
    return TimingNote((timing.headline, *timing.says), timing.twists, expected, timing.rests_on)


def _bow(frozen: dict[str, Any]) -> BowFacts:
    draw = frozen["draw_length_m"]
    return BowFacts(
        tag=frozen["tag"],
        serial=frozen["serial"],
        model=frozen["model"],
        hand=str(Hand(frozen["hand"]).label),
        kind=str(BowKind(frozen["kind"]).label),
        cam_system=str(CamSystem(frozen["cam_system"]).label) if frozen["cam_system"] else "",
        draw_length_m=draw,
        amo_draw_length_m=amo_draw_length_m(draw) if draw is not None else None,
        peak_weight_n=frozen["peak_weight_n"],
    )


def _reference(order: WorkOrder, frozen: dict[str, Any] | None) -> ReferenceOrigin | None:
    """Where the references come from; who took them is asked when it is printed, for a name may be erased."""
    if frozen is None or order.reference_set is None:
        return None
    return ReferenceOrigin(
        frozen["version"],
        str(Origin(frozen["origin"]).label),
        str(order.reference_set.taken_by),
        date.fromisoformat(frozen["taken_on"]),
    )


def _measurements(order: WorkOrder) -> tuple[MeasurementRow, ...]:
    """The rows of the table, with what is kept of each while the order is open."""
    kept = order.readings.all() if order.status in TO_BE_DONE else ()
    found = {(one.kind, one.position): (one.as_found, one.as_left) for one in kept}
    rows = order.frozen["measurements"]
    measured = [_measurement(row, *found.get((row["kind"], row["position"]), (None, None))) for row in rows]
    return tuple(_with_calibration(measured, [row["tool"] for row in rows], order.day))


def _with_calibration(rows: list[MeasurementRow], codes: list[str], day: date) -> Iterator[MeasurementRow]:
    """Each row with the day until which its tool is calibrated: the book's word of today, for the work is done now."""
    due = dict(MeasuringTool.objects.filter(code__in=filter(None, codes)).values_list("code", "calibration_due_on"))
    for row, code in zip(rows, codes, strict=True):
        until = due.get(code)
        if until is None:
            yield row
            continue
        told = {"tool": code, "day": short_day(until)}
        yield replace(
            row,
            tool=_("%(tool)s, calibrated until %(day)s") % told,
            tool_warning=_("%(tool)s is overdue for calibration since %(day)s") % told if until < day else "",
        )


def _measurement(row: dict[str, Any], as_found: float | None, as_left: float | None) -> MeasurementRow:
    return MeasurementRow(
        name=label(row["kind"], row["position"]),
        dimension=shown_dimension(row["kind"]),
        reference=row["value"],
        tolerance=row["tolerance"],
        bench_tolerance=row["tolerance"] * BENCH_SHARE,
        where=str(WHERE_TO_MEASURE[row["kind"]]),
        tool=row["tool"],
        as_found=as_found,
        as_left=as_left,
    )


def _cord(row: dict[str, Any]) -> CordRow:
    shots, time, heat = life.printed_shares(life.LifeUsed(*row["life"]))
    return CordRow(
        position=str(Position(row["position"]).label),
        spec=row["spec"],
        lot=row["lot"] or row["serial"],
        fitted_on=date.fromisoformat(row["fitted_on"]),
        life=None if row["unknown_use"] else LifeUsed(shots, time, heat, _("assumed") if row["assumed"] else ""),
        half_twists_fitted=row["half_twists"],
        start_from=_start_from(row),
        to_be_replaced=row["replace"],
    )


def _start_from(row: dict[str, Any]) -> str:
    """The twists of the reference set, for a new cord; with none on record, the marks decide.

    A cord that stays on is twisted as the readings say: what a new one would get must not read as an order.
    """
    if row["reference_turns"] is None:
        return _("until the marks return") if row["replace"] else ""
    turns = _("%(turns)s turns") % {"turns": format_twists(row["reference_turns"])}
    return turns if row["replace"] else _("if replaced: %(turns)s") % {"turns": turns}


def _parts(site: Site, frozen: list[dict[str, Any]]) -> tuple[PartLine, ...]:
    specs = {spec.code: spec for spec in CordSpec.objects.filter(code__in=[row["spec"] for row in frozen])}
    return tuple(
        PartLine(row["quantity"], row["spec"], _on_shelf(site, specs.get(row["spec"]), row["quantity"]))
        for row in frozen
    )


def _on_shelf(site: Site, spec: CordSpec | None, wanted: int) -> str:
    if spec is None:
        return ""
    there = lookups.on_hand(site, spec)
    if there >= wanted:
        return _("%(count)d on the shelf") % {"count": there}
    return _("only %(count)d on the shelf: order") % {"count": there}


def _warnings(frozen: dict[str, Any]) -> list[str]:
    warnings = []
    if frozen["reference"] is None:
        warnings.append(_("No reference measurements on record: take them before anything is loosened."))
    if frozen["wear_is_stale"]:
        warnings.append(_("Facts came in after the wear was computed: reprint after the next refresh."))
    return warnings


def cover_of(site: Site, day: date, orders: Sequence[WorkOrder], now: datetime) -> QueueCover:
    """The day's cover list."""
    parts: dict[str, int] = {}
    for order in orders:
        for row in order.frozen["parts"]:
            parts[row["spec"]] = parts.get(row["spec"], 0) + row["quantity"]
    people = {order.technician_id for order in orders}
    present = [person for person in bench_people(site) if person.pk in people]
    return QueueCover(
        shop=site.name,
        site=site.code,
        on=day,
        technicians=tuple(str(person) for person in present),
        lines=tuple(_line(order) for order in orders),
        parts=_parts(site, [{"spec": code, "quantity": count} for code, count in sorted(parts.items())]),
        minutes_available=sum(minutes_on(person, day) for person in present) or None,
        printed_at=now.astimezone(ZoneInfo(site.time_zone)),
    )


def _line(order: WorkOrder) -> QueueLine:
    stay = order.bow.stays.filter(end=None).select_related("place").first()
    return QueueLine(
        order=order.number,
        tag=order.bow.tag,
        model=order.frozen["bow"]["model"],
        place=str(stay.place) if stay else "",
        jobs=tuple(str(NeedKind(one["kind"]).label) for one in order.frozen["reasons"]),
        technician=str(order.technician or ""),
        minutes=order.minutes,
        note=_("rests on assumed values") if order.frozen["assumed"] else "",
    )
