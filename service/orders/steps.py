"""The steps of an order: what its needs ask for, in the technician's order of work, with this bow's numbers."""

from collections.abc import Iterable, Mapping

from fleet.models import Bow, ReferenceSet
from fleet.vocabulary import BowKind, IncidentKind, MeasurementKind
from service.closed_orders import learned_response, peak_weight_per_turn
from service.models import NeedKind
from service.orders.wording import told
from service.said import mark, say
from service.timing.correction import order_of_correction
from service.timing.job import Case, Job, NewCordTwists
from service.timing.tolerance import Reference
from service.timing.vocabulary import BowKind as TimingBowKind
from service.timing.vocabulary import CamSystem, Position
from service.timing.vocabulary import MeasurementKind as TimingKind
from service.twisted_cords import cords_of
from service.units import Units

CASES: dict[str, Case] = {
    NeedKind.REPLACEMENT: Case.SET_REPLACED,
    NeedKind.TIMING_CHECK: Case.TIMING,
    NeedKind.TURNAROUND: Case.TIMING,
    NeedKind.INCIDENT: Case.TIMING,
    NeedKind.SETTLE_IN: Case.AFTER_SETTLE_IN,
}
LOOK_OVER: dict[str, tuple[str, ...]] = {
    BowKind.COMPOUND: (
        mark("Look over both limbs, edges and tips, for cracks, splinters and lifted layers"),
        mark("Look over cams, modules, axles and their clips, and the cable guard; note cam lean"),
        mark("Look over every cord along its whole length: broken strands, glazing, deep fuzz at a track"),
        mark("Look over servings at cams, nocking point and guard: separated or cut through"),
        mark("Look over peep, nocking point and loop; limb bolts within the maker's turns"),
    ),
    BowKind.RECURVE: (
        mark("Look over both limbs, edges and tips, for cracks, twist and lifted layers"),
        mark("Look over the string grooves at the tips, limb pockets and bolts"),
        mark("Look over the string along its whole length: broken strands, glazing, fuzz at the grooves"),
        mark("Look over servings and nocking point: separated or cut through"),
    ),
    BowKind.LONGBOW: (
        mark("Look over both limbs, back and belly, for cracks, splinters and lifted layers"),
        mark("Look over the nocks and the string's loops in them"),
        mark("Look over the string along its whole length: broken strands, glazing, fuzz at the nocks"),
        mark("Look over servings and nocking point: separated or cut through"),
    ),
}
FINDING_RULE = mark(
    "A condemned cord, crack or bent part: do not draw the bow, not on the board either; it stays held; "
    "write the finding down and replace before release"
)


def steps_for(
    bow: Bow,
    kinds: Iterable[str],
    reference_set: ReferenceSet | None,
    incidents: Iterable[str],
    system: Units,
    also: Iterable[Case] = (),
) -> list[str]:
    """The steps as sentences in the site's units; only those that the order's needs and open incidents call for,
    and what the bench has found to do `also`."""
    wanted = set(kinds)
    steps: list[str] = [say(pattern) for pattern in (*LOOK_OVER[bow.spec_sheet.bow_kind], FINDING_RULE)]
    cases = {CASES[kind] for kind in wanted if kind in CASES} | set(also)
    if not cases:
        return steps
    if IncidentKind.BENT_STOP in incidents and bow.spec_sheet.bow_kind == BowKind.COMPOUND:
        cases.add(Case.STOP_CHANGED)
    return steps + [told(step.phrase, system) for step in order_of_correction(_job(bow, cases, reference_set))]


def _job(bow: Bow, cases: set[Case], reference_set: ReferenceSet | None) -> Job:
    system_of_cams = CamSystem(bow.spec_sheet.cam_system) if bow.spec_sheet.cam_system else None
    twists = _reference_twists(reference_set)
    references = references_of(reference_set)
    per_turn = peak_weight_per_turn(bow)
    return Job(
        bow_kind=TimingBowKind(bow.spec_sheet.bow_kind),
        cases=frozenset(cases),
        references=references,
        cam_system=system_of_cams,
        cords=[] if Case.SET_REPLACED in cases else cords_of(bow, learned_response(bow)),
        new_cords=[
            NewCordTwists(Position(position), turns) for position, turns in twists.items() if Case.SET_REPLACED in cases
        ],
        yoke_positions=frozenset(
            Position(one.position)
            for one in bow.spec_sheet.cords.select_related("cord_spec")
            if one.cord_spec.yoke_legs
        ),
        peak_weight_per_turn_n=per_turn.value if per_turn else None,
        has_peep=any(one.kind is TimingKind.PEEP_HEIGHT for one in references),
    )


def references_of(reference_set: ReferenceSet | None) -> list[Reference]:
    """The set's measurements that are brought back and checked: all but the twists, which are put in."""
    if reference_set is None:
        return []
    return [
        Reference(TimingKind(one.kind), one.value, one.tolerance)
        for one in reference_set.measurements.all()
        if one.kind != MeasurementKind.TWISTS and one.tolerance > 0
    ]


def _reference_twists(reference_set: ReferenceSet | None) -> Mapping[str, float]:
    if reference_set is None:
        return {}
    return {one.position: one.value for one in reference_set.measurements.all() if one.kind == MeasurementKind.TWISTS}
