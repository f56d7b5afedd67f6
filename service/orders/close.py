"""Closing an order: the readings decide whether it may be signed, then the facts go into the register."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleet import lookups, record
from fleet.models import Cord, Fitting, Hold, Person, SignedResult
from fleet.record.cords import last_off
from fleet.refusal import Refused
from fleet.vocabulary import HoldReason, Position, RemovalReason
from service.house import CRITICAL_NEEDS, MEASURED_NEEDS
from service.models import NeedKind, OrderCord, OrderReading, OrderStatus, WorkOrder
from service.needs import HOLD_NEEDS
from service.orders.steps import references_of
from service.orders.wording import label, measured, off_as_read, within
from service.said import COLON, SEMICOLON, joined, say
from service.timing.tolerance import ToleranceReport, check_all
from service.timing.vocabulary import MeasurementKind as TimingKind
from service.units import Units
from service.wording import named, worded


def report_of(order: WorkOrder) -> ToleranceReport:
    """As left against the frozen reference set, by the bench tolerance."""
    taken = order.readings.filter(as_left__isnull=False, position="")
    readings = {TimingKind(one.kind): one.as_left for one in taken if one.as_left is not None}
    return check_all(references_of(order.reference_set), readings)


def what_is_open(order: WorkOrder) -> list[str]:
    """Everything that keeps an order from being signed, each with its next step; empty when it may be signed."""
    return [*_measurements_open(order), *_cords_open(order)]


def _kinds(order: WorkOrder) -> set[str]:
    return {need.kind for need in order.needs.all()}


def is_measured(order: WorkOrder) -> bool:
    """Whether it ends with every reference measurement taken again: by its needs, by what the bench has found to
    do besides, or because a cord was touched."""
    touched = any(cord.replaced or cord.half_twists is not None for cord in order.cords.all())
    return touched or bool(order.frozen.get("also")) or bool(_kinds(order) & MEASURED_NEEDS)


def _measurements_open(order: WorkOrder) -> list[str]:
    system = Units(order.site.units)
    report = report_of(order)
    found: list[str] = [
        say(
            "%(what)s reads %(value)s, %(off)s from %(reference)s: outside the bench tolerance of %(tolerance)s; "
            "bring it back",
            what=label(check.kind),
            value=measured(check.kind, check.reading_si, system),
            off=off_as_read(check.kind, check.deviation_si, system),
            reference=measured(check.kind, check.reference_si, system),
            tolerance=within(check.kind, check.bench_si, system),
        )
        for check in report.still_off
    ]
    if is_measured(order):
        if order.reference_set is None:
            found.append(
                say("it was issued without reference measurements: record a reference set, then issue a new order")
            )
        found += [say("%(what)s has no as-left reading: measure it", what=label(kind)) for kind in report.missing]
    elif order.reference_set is None and lookups.current_reference_set(order.bow) is None:
        found.append(say("%(tag)s has no reference measurements on record: record a reference set", tag=order.bow.tag))
    return found


def _cords_open(order: WorkOrder) -> list[str]:
    found: list[str] = []
    cords = list(order.cords.select_related("new_spec"))
    if NeedKind.REPLACEMENT in _kinds(order) and not any(cord.replaced for cord in cords):
        found.append(
            say("a replacement was ordered, but no cord is entered as replaced: enter it, or cancel the order")
        )
    for cord in cords:
        place = named(Position(cord.position).label)
        if cord.finding and not cord.replaced:
            found.append(
                say("%(cord)s: a finding condemns it, but it is not entered as replaced: replace it", cord=place)
            )
        if not cord.replaced:
            continue
        found += [joined(COLON, [place, said]) for said in _new_cord_open(cord)]
        if not cord.removed_why:
            found.append(say("%(cord)s: say why the old cord was removed", cord=place))
        if cord.removed_why == RemovalReason.CONDEMNED and not cord.finding:
            found.append(say("%(cord)s: a condemned cord names its finding", cord=place))
    return found


def _new_cord_open(entry: OrderCord) -> list[str]:
    if entry.new_spec is None:
        return [say("say which cord spec the new cord is")]
    if not entry.new_serial:
        return [say("the new cord has no serial: give the one on its tag")]
    known = Cord.objects.filter(serial=entry.new_serial).select_related("spec").first()
    if known is None:
        return []
    if known.scrapped_at is not None:
        return [say("cord %(serial)s was scrapped: fit another one", serial=known.serial)]
    if known.spec_id != entry.new_spec.pk:
        return [
            say(
                "cord %(serial)s is a %(spec)s in the book, not a %(wanted)s: correct one",
                serial=known.serial,
                spec=known.spec.code,
                wanted=entry.new_spec.code,
            )
        ]
    off = last_off(known)
    if off is not None and off.removed_at is not None and known.serial not in entry.order.note:
        return [
            say(
                "cord %(serial)s came off %(tag)s on %(day)s and lies apart since: write in the note, with its "
                "serial, why it is fitted again, or take a new cord",
                serial=known.serial,
                tag=off.bow.tag,
                day=off.removed_at.date(),
            )
        ]
    return []


@transaction.atomic
def sign(order: WorkOrder, *, by: Person, now: datetime) -> SignedResult:
    """Sign an order: refused while anything is open; else cords, twists, stock and the result go on record."""
    order = WorkOrder.objects.select_for_update(of=("self",)).select_related("site", "bow__spec_sheet").get(pk=order.pk)
    if order.status != OrderStatus.IN_WORK:
        raise Refused(
            _("order %(number)s is %(status)s: only an order in work is signed.")
            % {"number": order.number, "status": OrderStatus(order.status).label}
        )
    still_open = what_is_open(order)
    if still_open:
        raise Refused(
            _("order %(number)s stays open: %(still_open)s.")
            % {"number": order.number, "still_open": worded(joined(SEMICOLON, still_open))}
        )
    changed = [_change_cord(order, cord, by, now) for cord in order.cords.filter(replaced=True)]
    _reset_cords(order, by, now)
    reference_set = order.reference_set or lookups.current_reference_set(order.bow)
    if reference_set is None:
        raise Refused(
            _("%(tag)s has no reference measurements: record a reference set before signing.") % {"tag": order.bow.tag}
        )
    result = record.sign_result(
        by=by,
        bow=order.bow,
        order_number=order.number,
        reference_set=reference_set,
        readings=[_reading(one) for one in order.readings.select_related("tool")],
        work=[{"kind": need.kind, "reason": need.reason} for need in order.needs.all()],
        cords_changed=changed,
        steps_done=[order.frozen["steps"][i] for i in order.steps_done if i < len(order.frozen["steps"])],
        note=order.note,
        at=now,
    )
    order.status, order.signed_at = OrderStatus.SIGNED, now
    order.save(update_fields=["status", "signed_at"])
    return result


def _reading(one: OrderReading) -> record.Reading:
    return record.Reading(one.kind, one.as_found, one.as_left, one.position, one.tool.code if one.tool else "")


def _change_cord(order: WorkOrder, entry: OrderCord, by: Person, now: datetime) -> dict[str, str | int | None]:
    """Take the old cord off and fit the new one; one cord of its spec leaves the shelf."""
    old = Fitting.objects.filter(bow=order.bow, position=entry.position, removed_at=None).select_related("cord").first()
    if old is not None:
        record.remove_cord(by=by, fitting=old, at=now, why=entry.removed_why, finding=entry.finding, now=now)
    if entry.new_spec is None:
        raise Refused(_("%(position)s: say which cord spec the new cord is.") % {"position": entry.position})
    new = Cord.objects.filter(serial=entry.new_serial).first() or record.put_cord(
        by=by, serial=entry.new_serial, spec=entry.new_spec, lot=entry.new_lot
    )
    record.fit_cord(
        by=by,
        cord=new,
        bow=order.bow,
        position=entry.position,
        at=now,
        now=now,
        half_twists=entry.half_twists,
        again_because=order.note if last_off(new) else "",
    )
    if lookups.on_hand(order.site, entry.new_spec) > 0:
        record.move_stock(
            by=by,
            site=order.site,
            cord_spec=entry.new_spec,
            kind="used",
            quantity=1,
            at=now,
            key=f"{order.number}-{entry.position}",
            now=now,
            order_number=order.number,
        )
    return {
        "position": entry.position,
        "old_serial": old.cord.serial if old else None,
        "removed_why": entry.removed_why,
        "finding": entry.finding,
        "new_serial": entry.new_serial,
        "new_lot": entry.new_lot,
        "half_twists": entry.half_twists,
    }


def _reset_cords(order: WorkOrder, by: Person, now: datetime) -> None:
    """After a measured order every cord's stretch counts from here, with the twists that it has now."""
    if not is_measured(order):
        return
    typed = {cord.position: cord.half_twists for cord in order.cords.all()}
    for fitting in lookups.fitted(order.bow):
        record.reset_cord(
            by=by, fitting=fitting, at=now, half_twists=typed.get(fitting.position), order_number=order.number
        )


def is_critical(order: WorkOrder) -> bool:
    """Work that a second person releases: by its needs, or because a cord was replaced."""
    return bool(_kinds(order) & CRITICAL_NEEDS) or any(cord.replaced for cord in order.cords.all())


def answered_holds(order: WorkOrder, result: SignedResult) -> list[Hold]:
    """The open holds that a signed order answers: those of its kinds of work, and the cords that it condemned itself.

    A bow that was dropped after its inspection was ordered stays held when the inspection is released.
    """
    kinds = _kinds(order)
    return [
        hold
        for hold in lookups.open_holds(order.bow)
        if hold.since <= result.signed_at and (HOLD_NEEDS[hold.reason] in kinds or _condemned_by(hold, order, result))
    ]


def _condemned_by(hold: Hold, order: WorkOrder, result: SignedResult) -> bool:
    here = order.cords.filter(replaced=True, removed_why=RemovalReason.CONDEMNED)
    return hold.reason == HoldReason.CONDEMNED and hold.since == result.signed_at and here.exists()


@transaction.atomic
def release(order: WorkOrder, *, by: Person, now: datetime) -> WorkOrder:
    """Release the bow: it may go out again, unless something else holds it that this order does not answer.

    Critical work is released by somebody other than its performer.
    """
    order = WorkOrder.objects.select_for_update(of=("self",)).select_related("bow").get(pk=order.pk)
    if order.status != OrderStatus.SIGNED:
        raise Refused(
            _("order %(number)s is %(status)s: only a signed order is released.")
            % {"number": order.number, "status": OrderStatus(order.status).label}
        )
    result = SignedResult.objects.get(order_number=order.number)
    if is_critical(order) and result.performed_by_id == by.pk:
        raise Refused(
            _(
                "order %(number)s is critical work performed by %(performed_by)s: a second person checks "
                "and releases it."
            )
            % {"number": order.number, "performed_by": result.performed_by}
        )
    record.sign_release(by=by, result=result, at=now)
    answered = answered_holds(order, result)
    record.release(by=by, bow=order.bow, at=now, order_number=order.number, holds=answered)
    order.status, order.closed_at = OrderStatus.RELEASED, now
    order.save(update_fields=["status", "closed_at"])
    return order
