"""Five orders in the demo's work, one for each cam system and a recurve: as found typed in, the rest is the reader's.

Each bow's story is one cord that has become longer; what a rule then reads follows from the timing model, rounded as
the shop's rule is read. The orders stand as a technician leaves them after the first look: open, nothing twisted yet.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from fleet import record
from fleet.models import Bow, MeasuringTool, Person
from fleet.vocabulary import MeasurementKind, Position, ToolKind, Verdict
from service.bow_geometry import geometry_of_bow
from service.demo.makes import inch
from service.demo.references import NOT_BY_RULE, TOOL_FOR
from service.models import WorkOrder
from service.orders import work
from service.orders.issue import issue_now
from service.orders.work import TypedReading
from service.schedule import today_at
from service.timing.kinematics import drift
from service.timing.vocabulary import Position as TimingPosition

TECHNICIAN = "imre"
RULE_DIVISION_M = inch(1 / 64)
ASKED_BEFORE = timedelta(minutes=20)
NOTE = "demo: the first look is typed in; nothing is twisted yet"


@dataclass(frozen=True)
class WorkedCase:
    """A bow, the cord that has become longer, and by how much (in)."""

    tag: str
    position: Position
    longer_in: float


WORKED_CASES = (
    WorkedCase("HW-05", Position.LOWER_CABLE, 1 / 4),  # binary
    WorkedCase("HW-13", Position.BUSS_CABLE, 1 / 4),  # hybrid
    WorkedCase("HW-21", Position.STRING, 3 / 8),  # single
    WorkedCase("HW-34", Position.UPPER_CABLE, 1 / 4),  # twin
    WorkedCase("HW-27", Position.STRING, 3 / 16),  # recurve
)


def put_worked_cases(now: datetime) -> list[WorkOrder]:
    """Issue an order for each case's bow and type in what was found."""
    technician = Person.objects.get(username=TECHNICIAN)
    return [_put(case, technician, now) for case in WORKED_CASES]


def _put(case: WorkedCase, technician: Person, now: datetime) -> WorkOrder:
    bow = Bow.objects.select_related("site", "spec_sheet").get(tag=case.tag)
    record.record_turnaround(
        by=technician,
        bow=bow,
        at=now - ASKED_BEFORE,
        answers={},
        measurements=[],
        verdict=Verdict.CHECK_TIMING,
        key=f"demo-worked-{case.tag}",
    )
    day = today_at(bow.site, now)
    order = issue_now(bow, day=day, by=technician, now=now, technician=technician)
    return work.enter(
        order,
        by=technician,
        now=now,
        readings=_as_found(order, case),
        cords=[],
        steps_done=[0, 1, 2],
        note=NOTE,
    )


def _as_found(order: WorkOrder, case: WorkedCase) -> list[TypedReading]:
    moved = drift(geometry_of_bow(order.bow), {TimingPosition(case.position): inch(case.longer_in)})
    changes = {str(kind): metres for kind, metres in moved.items()}
    tools = {tool.kind: tool.code for tool in MeasuringTool.objects.filter(site=order.site).order_by("-code")}
    found = []
    for row in order.frozen["measurements"]:
        kind = MeasurementKind(row["kind"])
        value = row["value"] + changes.get(kind, 0.0)
        if kind in changes and kind not in NOT_BY_RULE:
            value = round(value / RULE_DIVISION_M) * RULE_DIVISION_M
        found.append(TypedReading(kind, value, None, tool_code=tools.get(TOOL_FOR.get(kind, ToolKind.RULE), "")))
    return found
