"""At the bench: as found -> which cord moved, the twists to start from, what each measurement should read then."""

from dataclasses import dataclass

from fleet import lookups
from fleet.models import Fitting
from service.closed_orders import TURNS_PER_HALF_TURN, learned_response
from service.models import WorkOrder
from service.orders.steps import references_of
from service.orders.wording import label, measured, told
from service.timing.diagnosis import Diagnosis, Verdict, diagnose
from service.timing.directions import Direction
from service.timing.expected import ExpectedReading, expected_after
from service.timing.geometry import DEFAULT_CORD_DIAMETER_M
from service.timing.proposals import twists_for
from service.timing.readings import DEFAULT_RESOLUTION_M, Reading
from service.timing.response import LearnedResponse
from service.timing.twists import Cord, TwistedLength, TwistProposal, TwistRange
from service.timing.vocabulary import MeasurementKind, Position
from service.units import Units

DIRECTION_WORDS = {
    Direction.RISES: "should rise",
    Direction.FALLS: "should fall",
    Direction.UNCHANGED: "should stay",
    Direction.CHECK: "check",
}


@dataclass(frozen=True)
class ExpectedLine:
    """What one measurement reads now, and should read once the twists are in."""

    name: str
    found: str
    expected: str


@dataclass(frozen=True)
class BenchTiming:
    """The diagnosis in the site's units. `certain` is False where the readings cannot tell."""

    certain: bool
    says: tuple[str, ...]
    twists: tuple[str, ...]
    expected: tuple[ExpectedLine, ...]
    rests_on: str


def bench_timing(order: WorkOrder) -> BenchTiming | None:
    """What the kept as-found readings of an order say; None until there are any."""
    readings = _readings(order)
    if not readings:
        return None
    system = Units(order.site.units)
    response = learned_response(order.bow)
    diagnosis = diagnose(response.geometry, readings)
    proposals = _proposals(order, diagnosis, response)
    expected = expected_after(response.geometry, {one.kind: one.found_si for one in readings}, proposals)
    return BenchTiming(
        certain=diagnosis.verdict in (Verdict.MOVED, Verdict.NOTHING_SEEN),
        says=tuple(told(phrase, system) for phrase in diagnosis.phrases),
        twists=tuple(told(proposal.phrase, system) for proposal in proposals),
        expected=tuple(_line(one, system) for one in expected.values()) if proposals else (),
        rests_on=_rests_on(response),
    )


def _readings(order: WorkOrder) -> list[Reading]:
    references = {one.kind: one.value_si for one in references_of(order.reference_set)}
    found = []
    for one in order.readings.filter(as_found__isnull=False, position="").select_related("tool"):
        kind = MeasurementKind(one.kind)
        if kind in references and one.as_found is not None:
            resolution = one.tool.resolution if one.tool and one.tool.resolution else DEFAULT_RESOLUTION_M
            found.append(Reading(kind, references[kind], one.as_found, resolution))
    return found


def _proposals(order: WorkOrder, diagnosis: Diagnosis, response: LearnedResponse) -> tuple[TwistProposal, ...]:
    cords = [cord_of(fitting, response) for fitting in lookups.fitted(order.bow)]
    fitted = {cord.position for cord in cords}
    if any(position not in fitted for position in diagnosis.moved):
        return ()
    return twists_for(diagnosis, cords)


def cord_of(fitting: Fitting, response: LearnedResponse) -> Cord:
    """A fitted cord as far as twisting goes; twists that nobody counted are none: then there is no estimate."""
    spec = fitting.cord.spec
    counted = fitting.resets.exclude(half_twists=None).order_by("-at").first()
    half_twists = counted.half_twists if counted is not None else fitting.half_twists
    allowed = None
    if spec.twists_per_m_min is not None and spec.twists_per_m_max is not None:
        allowed = TwistRange(spec.twists_per_m_min, spec.twists_per_m_max)
    position = Position(fitting.position)
    return Cord(
        position=position,
        body=TwistedLength(
            spec.length_m, (half_twists or 0) * TURNS_PER_HALF_TURN, spec.diameter_m or DEFAULT_CORD_DIAMETER_M
        ),
        twist_range=allowed,
        shortening_factor=response.shortening_factor.get(position, 1.0),
    )


def _line(one: ExpectedReading, system: Units) -> ExpectedLine:
    found = measured(one.kind, one.found_si, system)
    if one.expected_si is None:
        return ExpectedLine(label(one.kind), found, DIRECTION_WORDS[one.direction])
    basis = " (arms assumed)" if one.rests_on_assumed else ""
    return ExpectedLine(label(one.kind), found, measured(one.kind, one.expected_si, system) + basis)


def _rests_on(response: LearnedResponse) -> str:
    assumed = response.geometry.assumed_names()
    learned = f"learned from {response.orders} orders of this bow and {response.mates_orders} of its mates"
    if not assumed:
        return f"every arm measured or learned; {learned}"
    names = ", ".join(name.replace("_", " ").replace(".", " ") for name in assumed)
    return f"assumed: {names}; {learned}"
