"""At the bench: as found -> which cord moved, the twists to start from, what each measurement should read then."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.models import Bow
from service.closed_orders import learned_response
from service.learned_arms import value_name
from service.models import WorkOrder
from service.orders.steps import references_of
from service.orders.wording import estimated, label, measured, off_by, told
from service.timing.diagnosis import CordStretch, Diagnosis, Verdict, diagnose
from service.timing.directions import Direction
from service.timing.expected import ExpectedReading, expected_after
from service.timing.proposals import twists_for
from service.timing.readings import DEFAULT_RESOLUTION_M, Reading
from service.timing.response import LearnedResponse
from service.timing.tolerance import Reference
from service.timing.twists import Cord, TwistProposal
from service.timing.vocabulary import LABELS, MeasurementKind
from service.twisted_cords import cords_of
from service.units import Units, format_length


@dataclass(frozen=True)
class ExpectedLine:
    """What one measurement should read by the reference, reads now, and should read once the twists are in."""

    name: str
    reference: str
    found: str
    expected: str


@dataclass(frozen=True)
class CordFinding:
    """One cord: how much longer it is and how sure that is; empty where the readings do not determine it."""

    name: str
    longer: str
    give_or_take: str
    moved: bool


@dataclass(frozen=True)
class BenchTiming:
    """The diagnosis in the site's units. `suspicious` names the kinds that are to be read again."""

    verdict: Verdict
    says: tuple[str, ...]
    cords: tuple[CordFinding, ...]
    twists: tuple[str, ...]
    expected: tuple[ExpectedLine, ...]
    suspicious: frozenset[str]
    rests_on: str

    @property
    def headline(self) -> str:
        """The one answer, in words."""
        return {
            Verdict.MOVED: _("A cord has moved"),
            Verdict.NOTHING_SEEN: _("No cord has moved"),
            Verdict.CANNOT_TELL: _("Cannot tell which cord moved"),
            Verdict.READ_AGAIN: _("Read again before anything is twisted"),
        }[self.verdict]


def bench_timing(order: WorkOrder) -> BenchTiming | None:
    """What the kept as-found readings of an order say; None until there are any."""
    kept = order.readings.filter(as_found__isnull=False, position="").select_related("tool")
    found = {
        one.kind: Found(one.as_found, one.tool.resolution if one.tool else None, one.read_twice)
        for one in kept
        if one.as_found is not None
    }
    return timing_of(order.bow, references_of(order.reference_set), found, Units(order.site.units))


@dataclass(frozen=True)
class Found:
    """One reading as found (SI), the division of the tool it was read with (SI, None: not on record), and whether
    it was read twice: then it is taken as read, however odd."""

    value: float
    resolution: float | None = None
    read_twice: bool = False


def timing_of(bow: Bow, references: Sequence[Reference], found: dict[str, Found], system: Units) -> BenchTiming | None:
    """What as-found readings of a bow say against its references, by kind; None where there is nothing to weigh.

    Raises ValueError where a cord's record cannot be (turns that do not fit its length): the text says what to correct.
    """
    by_kind = {one.kind: one.value_si for one in references}
    readings = [
        Reading(kind, by_kind[kind], one.value, one.resolution or DEFAULT_RESOLUTION_M, one.read_twice)
        for kind, one in ((MeasurementKind(name), one) for name, one in found.items())
        if kind in by_kind
    ]
    if not readings:
        return None
    response = learned_response(bow)
    diagnosis = diagnose(response.geometry, readings)
    cords = cords_of(bow, response) if diagnosis.moved else []
    proposals, missing = _proposals(diagnosis, cords)
    expected = expected_after(response.geometry, {one.kind: one.found_si for one in readings}, proposals)
    return BenchTiming(
        verdict=diagnosis.verdict,
        says=(*(told(phrase, system) for phrase in diagnosis.phrases), *missing),
        cords=tuple(_cord(cord, diagnosis, system) for cord in diagnosis.stretches),
        twists=tuple(told(proposal.phrase, system) for proposal in proposals),
        expected=tuple(_line(one, by_kind[one.kind], system) for one in expected.values()) if proposals else (),
        suspicious=frozenset(str(kind) for one in diagnosis.suspicions for kind in one.kinds),
        rests_on=rests_on(response),
    )


def _proposals(diagnosis: Diagnosis, cords: Sequence[Cord]) -> tuple[tuple[TwistProposal, ...], list[str]]:
    """The twists, or the cords that moved and are not on record."""
    fitted = {cord.position for cord in cords}
    missing = [LABELS[position] for position in diagnosis.moved if position not in fitted]
    if missing:
        none = _("No %(cords)s is on record as fitted: fit it in the book, then its twists can be proposed.")
        return (), [none % {"cords": ", ".join(missing)}]
    return twists_for(diagnosis, cords), []


def _cord(cord: CordStretch, diagnosis: Diagnosis, system: Units) -> CordFinding:
    name = LABELS[cord.position]
    if cord.stretch_m is None or cord.standard_error_m is None:
        return CordFinding(name, "", "", moved=False)
    return CordFinding(
        name,
        off_by(MeasurementKind.AXLE_TO_AXLE, cord.stretch_m, system),
        format_length(cord.standard_error_m, system),
        moved=cord.position in diagnosis.moved,
    )


def _line(one: ExpectedReading, reference_si: float, system: Units) -> ExpectedLine:
    found, reference = measured(one.kind, one.found_si, system), measured(one.kind, reference_si, system)
    if one.expected_si is None:
        return ExpectedLine(label(one.kind), reference, found, _way(one.direction))
    basis = f" ({_('rests on an assumed value')})" if one.rests_on_assumed else ""
    return ExpectedLine(label(one.kind), reference, found, estimated(one.kind, one.expected_si, system) + basis)


def _way(direction: Direction) -> str:
    return {
        Direction.RISES: _("should rise: check"),
        Direction.FALLS: _("should fall: check"),
        Direction.UNCHANGED: _("should stay"),
        Direction.CHECK: _("check"),
    }[direction]


def rests_on(response: LearnedResponse) -> str:
    """On how many closed orders and on which assumed values the diagnosis rests."""
    learned = _("closed orders learned from: %(own)d of this bow, %(mates)d of its mates") % {
        "own": response.orders,
        "mates": response.mates_orders,
    }
    assumed = response.geometry.assumed_names()
    if not assumed:
        return f"{_('every arm measured or learned')}; {learned}"
    names = "; ".join(value_name(name) for name in assumed)
    return f"{_('assumed, not measured:')} {names}; {learned}"
