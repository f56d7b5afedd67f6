"""More work found at the bench: the order's steps grow by what it takes, and what is ticked stays ticked."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Person
from fleet.refusal import Refused
from fleet.vocabulary import BowKind, IncidentKind
from service.models import WorkOrder
from service.orders import work
from service.orders.contents import open_incidents
from service.orders.steps import CASES, steps_for
from service.timing.job import Case
from service.units import Units


def left_to_add(order: WorkOrder) -> dict[str, str]:
    """What an order can still be widened by, in words, by the case's name; its needs may have called for it."""
    there = {CASES[kind] for kind in _kinds(order) if kind in CASES} | _also(order)
    left = {}
    if there.isdisjoint({Case.TIMING, Case.SET_REPLACED}):
        left[str(Case.TIMING)] = _("A cord has to be twisted")
    bent = IncidentKind.BENT_STOP in open_incidents(order.bow)
    if order.bow.spec_sheet.bow_kind == BowKind.COMPOUND and Case.STOP_CHANGED not in there and not bent:
        left[str(Case.STOP_CHANGED)] = _("A draw stop was bent or replaced")
    return left


@transaction.atomic
def add(order: WorkOrder, case: str, *, by: Person, now: datetime) -> WorkOrder:
    """Widen an open order by a case. It then ends with every reference measurement taken again."""
    left = left_to_add(order)
    if case not in left:
        said = "; ".join(left) or _("nothing more")
        raise Refused(
            _("'%(case)s' cannot be added to the work of order %(number)s: it takes %(said)s.")
            % {"case": case, "number": order.number, "said": said}
        )
    work.start(order, by=by, now=now)
    before, also = order.frozen["steps"], _also(order) | {Case(case)}
    steps = steps_for(
        order.bow,
        _kinds(order),
        order.reference_set,
        open_incidents(order.bow),
        Units(order.site.units),
        also,
    )
    done = {before[number] for number in order.steps_done if number < len(before)}
    order.frozen = {**order.frozen, "steps": steps, "also": sorted(also)}
    order.steps_done = [number for number, text in enumerate(steps) if text in done]
    order.save(update_fields=["frozen", "steps_done"])
    record.note_order(by=by, bow=order.bow, order_number=order.number, step="widened", case=case)
    return order


def _kinds(order: WorkOrder) -> list[str]:
    return [need.kind for need in order.needs.all()]


def _also(order: WorkOrder) -> set[Case]:
    return {Case(name) for name in order.frozen.get("also", ())}
