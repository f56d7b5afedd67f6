"""What a timing job is, and the steps that every bow kind shares."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from service.said import joined, mark, say
from service.timing.phrases import Phrase, Quantity, QuantityKind, listed
from service.timing.tolerance import BENCH_SHARE, Reference
from service.timing.twists import Cord, TwistProposal, bench_step_phrase
from service.timing.vocabulary import (
    POSITIONS_BY_CAM_SYSTEM,
    BowKind,
    CamSystem,
    MeasurementKind,
    Position,
    name_of,
)

DEFAULT_SETTLE_IN_SHOTS = 100
"""Common practice, no source."""


AT_FULL_DRAW = frozenset(
    {
        MeasurementKind.DRAW_LENGTH,
        MeasurementKind.PEAK_WEIGHT,
        MeasurementKind.HOLDING_WEIGHT,
        MeasurementKind.LET_OFF,
        MeasurementKind.STOP_SYNC,
    }
)


class Case(StrEnum):
    """Why the bow is on the bench; a job may be several at once."""

    TIMING = "timing"
    STOP_CHANGED = "stop_changed"
    SET_REPLACED = "set_replaced"
    AFTER_SETTLE_IN = "after_settle_in"


class StepKey(StrEnum):
    READ_AS_FOUND = "read_as_found"
    RELAX = "relax"
    REPLACE_SET = "replace_set"
    TWIST = "twist"
    LET_UP = "let_up"
    TIMING_MARKS = "timing_marks"
    HOLE_DISTANCES = "hole_distances"
    GO_BY_DRAW_LENGTH = "go_by_draw_length"
    SET_STOP = "set_stop"
    STOPS_TOGETHER = "stops_together"
    ONE_STOP = "one_stop"
    DRAW_LENGTH = "draw_length"
    PEAK_WEIGHT = "peak_weight"
    AXLE_TO_AXLE = "axle_to_axle"
    HOLDING_WEIGHT = "holding_weight"
    BRACE_HEIGHT = "brace_height"
    TILLER = "tiller"
    NOCKING_HEIGHT = "nocking_height"
    LIMB_ALIGNMENT = "limb_alignment"
    FIT = "fit"
    REST = "rest"
    SETTLE_IN = "settle_in"
    MEASURE_AGAIN = "measure_again"
    MARK_CAMS = "mark_cams"
    AS_LEFT = "as_left"


@dataclass(frozen=True, slots=True)
class Step:
    """One line with a box to tick. `kinds` are the readings that belong to it, `position` the cord it is about."""

    key: StepKey
    phrase: Phrase
    kinds: tuple[MeasurementKind, ...] = ()
    position: Position | None = None


@dataclass(frozen=True, slots=True)
class NewCordTwists:
    """Whole turns to put into a new cord before it goes on."""

    position: Position
    turns: float


@dataclass(frozen=True, slots=True)
class Job:
    """Everything that decides which steps are printed.

    `references` are the frozen reference set; `cords` are those on the bow, for a job printed before the as-found
    readings have said which of them moved; `module_setting` is what the maker's chart names for this draw
    length; `peak_weight_per_turn_n` is the learned change per limb-bolt turn out, never an assumed one.
    """

    bow_kind: BowKind
    cases: frozenset[Case]
    references: Sequence[Reference]
    cam_system: CamSystem | None = None
    proposals: Sequence[TwistProposal] = ()
    new_cords: Sequence[NewCordTwists] = ()
    cords: Sequence[Cord] = ()
    yoke_positions: frozenset[Position] = frozenset()
    module_setting: str = ""
    settle_in_shots: int = DEFAULT_SETTLE_IN_SHOTS
    peak_weight_per_turn_n: float | None = None
    has_peep: bool = True
    _by_kind: Mapping[MeasurementKind, Reference] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.cases:
            raise ValueError(f"a job needs at least one case; choose among {', '.join(Case)}")
        if (self.bow_kind is BowKind.COMPOUND) != (self.cam_system is not None):
            raise ValueError(
                f"a {self.bow_kind} with cam system {self.cam_system}: a compound bow has one, "
                "a recurve or longbow has none; correct the spec sheet"
            )
        if self.cam_system is None and Case.STOP_CHANGED in self.cases:
            raise ValueError(f"a {self.bow_kind} has no draw stops; take the case stop_changed out")
        if self.settle_in_shots < 1:
            raise ValueError(f"settle-in of {self.settle_in_shots} shots must be 1 shot or more; 100 is usual")
        named = {proposal.position for proposal in self.proposals} | {new.position for new in self.new_cords}
        foreign = named - set(self.positions)
        if foreign:
            raise ValueError(
                f"{', '.join(sorted(foreign))} is not on this bow, its cords are {', '.join(self.positions)}; "
                "correct the cord's position"
            )
        by_kind = {reference.kind: reference for reference in self.references}
        if len(by_kind) < len(self.references):
            raise ValueError("the reference set names a measurement twice; keep the current one of each")
        object.__setattr__(self, "_by_kind", by_kind)

    @property
    def positions(self) -> tuple[Position, ...]:
        return (Position.STRING,) if self.cam_system is None else POSITIONS_BY_CAM_SYSTEM[self.cam_system]

    def reference(self, kind: MeasurementKind) -> Reference | None:
        return self._by_kind.get(kind)

    def has(self, *cases: Case) -> bool:
        return not self.cases.isdisjoint(cases)


def within(reference: Reference) -> Phrase:
    """`32 1/4 in, within ±1/16 in`: the reference and the bench tolerance."""
    return say(
        "%(value)s, within %(tolerance)s",
        value=_quantity(reference, reference.value_si),
        tolerance=replace(_quantity(reference, reference.tolerance_si * BENCH_SHARE), is_tolerance=True),
    )


_NOT_LENGTHS: dict[MeasurementKind, QuantityKind] = {
    MeasurementKind.PEAK_WEIGHT: QuantityKind.FORCE_N,
    MeasurementKind.HOLDING_WEIGHT: QuantityKind.FORCE_N,
    MeasurementKind.LET_OFF: QuantityKind.PERCENT,
    MeasurementKind.LIMB_BOLT_TURNS: QuantityKind.TURNS,
}


def _quantity(reference: Reference, value_si: float) -> Quantity:
    return Quantity(value_si, _NOT_LENGTHS.get(reference.kind, QuantityKind.LENGTH_M))


BRING_BACK, SET = mark("bring back the %(name)s: %(wanted)s"), mark("set %(name)s: %(wanted)s")
SET_THE, CHECK = mark("set the %(name)s: %(wanted)s"), mark("check %(name)s: %(wanted)s")


def bring_to(job: Job, key: StepKey, kind: MeasurementKind, pattern: str) -> list[Step]:
    """A step that names the reference, or none where the bow has no such reference."""
    reference = job.reference(kind)
    if reference is None:
        return []
    return [Step(key, say(pattern, name=name_of(kind), wanted=within(reference)), (kind,))]


def read_as_found(job: Job) -> Step:
    kinds = tuple(kind for kind in MeasurementKind if job.reference(kind) is not None)
    if kinds:
        phrase = say(
            "before anything is loosened, read the marks and take every measurement: %(names)s; write down as found",
            names=listed([name_of(kind) for kind in kinds]),
        )
    else:
        phrase = say("before anything is loosened, read the marks and take every measurement; write down as found")
    if not AT_FULL_DRAW.isdisjoint(kinds):
        phrase = say("%(step)s; draw it on the board only, and not at all while a finding stands", step=phrase)
    return Step(StepKey.READ_AS_FOUND, phrase, kinds)


def cords_steps(job: Job) -> list[Step]:
    """The new set, or the twists, as ordered. A cord that is right is not touched and has no step."""
    if job.has(Case.SET_REPLACED):
        if job.cam_system is None:
            whole = say("fit the new string; keep the old one with its tag until the order is signed")
        else:
            whole = say(
                "replace the set, one cord after another; keep the old one with its tag until the order is signed"
            )
        steps = [Step(StepKey.REPLACE_SET, whole)]
        steps += [
            Step(
                StepKey.TWIST,
                say(
                    "%(cord)s: put in %(turns)s before it goes on",
                    cord=name_of(new.position),
                    turns=Quantity(new.turns, QuantityKind.TURNS),
                ),
                position=new.position,
            )
            for new in job.new_cords
        ]
        return steps
    if job.proposals or not job.cords:
        return [Step(StepKey.TWIST, proposal.phrase, position=proposal.position) for proposal in job.proposals]
    if job.has(Case.TIMING):
        twist = say("twist the cord that has moved, as the order's page finds it")
        return [Step(StepKey.TWIST, joined("; ", [twist, *_bench_steps(job)]))]
    return []


def twist_if_outside(job: Job) -> list[Step]:
    """After settle-in nothing is twisted unless a reading asks for it."""
    if job.has(Case.TIMING, Case.SET_REPLACED) or job.proposals or not job.cords:
        return []
    if job.cam_system:
        first = say(
            "only if a reading is outside: in a press that fits the bow, twist the cord that has moved, as the order's "
            "page finds it"
        )
    else:
        first = say(
            "only if a reading is outside: with the bow unstrung by a stringer, twist the cord that has moved, as the "
            "order's page finds it"
        )
    return [Step(StepKey.TWIST, joined("; ", [first, *_bench_steps(job)]))]


def _bench_steps(job: Job) -> list[Phrase]:
    """How many half turns shorten each cord of this bow by a step that a rule reads."""
    return [bench_step_phrase(cord) for cord in job.cords]


def settle_in_steps(job: Job) -> list[Step]:
    """After a new cord: shoot it in, then measure again. The first time round only; afterwards it has settled."""
    if not job.has(Case.SET_REPLACED):
        return []
    shots = Quantity(job.settle_in_shots, QuantityKind.SHOTS)
    return [
        Step(StepKey.SETTLE_IN, say("shoot in the settle-in shots: %(shots)s", shots=shots)),
        Step(StepKey.MEASURE_AGAIN, say("measure everything again; what has moved is brought back as above")),
    ]


def as_left(job: Job) -> Step:
    kinds = tuple(reference.kind for reference in job.references)
    phrase = say(
        "measure everything and write down as left; outside the bench tolerance (half the in-service one) "
        "the order stays open with the reason"
    )
    return Step(StepKey.AS_LEFT, phrase, kinds)
