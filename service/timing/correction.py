"""The order of correction: the technician's order of work, only the steps that this job needs.

Common practice, no source. Every step is a phrase with this bow's numbers in SI; the printing layer chooses the
units and puts the standing cautions beside it.
"""

from __future__ import annotations

from service.timing.job import (
    Case,
    Job,
    Step,
    StepKey,
    as_left,
    bring_to,
    cords_steps,
    read_as_found,
    settle_in_steps,
    twist_if_outside,
    within,
)
from service.timing.phrases import Phrase, Quantity, QuantityKind, listed
from service.timing.twists import TwistAdvice
from service.timing.vocabulary import LABELS, CamSystem, MeasurementKind

MARKS = (MeasurementKind.TIMING_MARK_UPPER, MeasurementKind.TIMING_MARK_LOWER)
HOLES = (MeasurementKind.HOLE_DISTANCE_UPPER, MeasurementKind.HOLE_DISTANCE_LOWER)


def order_of_correction(job: Job) -> tuple[Step, ...]:
    """The steps of this job, in order."""
    if job.cam_system is None:
        return tuple(_string_bow_steps(job))
    return tuple(_compound_steps(job))


def _compound_steps(job: Job) -> list[Step]:
    steps = [read_as_found(job)]
    if _cords_change(job):
        relax = "relax the bow in a press that fits it; never let it up or down by the string alone"
        steps.append(Step(StepKey.RELAX, (relax,)))
        steps += cords_steps(job)
        steps += _yoke_steps(job)
        steps.append(Step(StepKey.LET_UP, ("see every cord in its track, then let the bow up with the press",)))
    if job.has(Case.AFTER_SETTLE_IN):
        steps += twist_if_outside(job)
    if job.has(Case.TIMING, Case.SET_REPLACED, Case.AFTER_SETTLE_IN):
        steps += _bring_cams_back(job)
    steps += _stop_steps(job)
    steps += _draw_board_steps(job)
    steps += _fitting_steps(job)
    steps += settle_in_steps(job)
    if job.has(Case.SET_REPLACED, Case.AFTER_SETTLE_IN):
        marks = "mark the cams where they now stand; they are the reference from here on"
        steps.append(Step(StepKey.MARK_CAMS, (marks,)))
    steps.append(as_left(job))
    return steps


def _cords_change(job: Job) -> bool:
    """Is the press needed? A stop alone is set on the strung bow; twists that are still open need it."""
    if job.has(Case.SET_REPLACED):
        return True
    if job.proposals:
        return any(proposal.advice is not TwistAdvice.LEAVE for proposal in job.proposals)
    return job.has(Case.TIMING)


def _yoke_steps(job: Job) -> list[Step]:
    touched = {proposal.position for proposal in job.proposals if proposal.advice is not TwistAdvice.LEAVE}
    if job.has(Case.SET_REPLACED) or not job.proposals:
        # Before the readings have named a cord, it may be any of them.
        touched = set(job.positions)
    names = [LABELS[position] for position in job.positions if position in job.yoke_positions & touched]
    if not names:
        return []
    phrase = f"{listed(names)}: the same turns in both yoke legs, or the cam leans; look along the string at the cam"
    return [Step(StepKey.TWIST, (phrase,))]


def _bring_cams_back(job: Job) -> list[Step]:
    """By the marks; with no marks, by the hole distances; with neither, by draw length. One of the three."""
    for key, kinds, verb in (
        (StepKey.TIMING_MARKS, MARKS, "bring back the"),
        (StepKey.HOLE_DISTANCES, HOLES, "set the"),
    ):
        steps = [step for kind in kinds for step in bring_to(job, key, kind, verb)]
        if steps:
            return steps
    found = bring_to(
        job, StepKey.GO_BY_DRAW_LENGTH, MeasurementKind.DRAW_LENGTH, "no marks and no hole distances: go by"
    )
    if found:
        return found
    phrase = "no marks, no hole distances and no draw length on record: set the cams by the maker's manual"
    return [Step(StepKey.GO_BY_DRAW_LENGTH, (phrase,))]


def _stop_steps(job: Job) -> list[Step]:
    steps = []
    if job.has(Case.STOP_CHANGED):
        draw = job.reference(MeasurementKind.DRAW_LENGTH)
        setting = f": {job.module_setting}" if job.module_setting else ", from the maker's chart"
        phrase: Phrase = (
            f"by the maker's manual, set the changed draw stop from the module setting for the draw length{setting}",
        )
        if draw is not None:
            phrase = (*phrase, " (draw length ", *within(draw), ")")
        steps.append(Step(StepKey.SET_STOP, phrase))
    if job.cam_system is CamSystem.SINGLE:
        alone = "on the draw board, draw to the stop: it must come up firm"
        return [*steps, Step(StepKey.ONE_STOP, (alone,))]
    together: Phrase = ("on the draw board, make both stops touch together",)
    sync = job.reference(MeasurementKind.STOP_SYNC)
    if sync is None:
        return [*steps, Step(StepKey.STOPS_TOGETHER, together)]
    gap = (*together, "; gap at the second stop when the first one touches: ", *within(sync))
    return [*steps, Step(StepKey.STOPS_TOGETHER, gap, (MeasurementKind.STOP_SYNC,))]


def _draw_board_steps(job: Job) -> list[Step]:
    by_draw_length = any(step.key is StepKey.GO_BY_DRAW_LENGTH and step.kinds for step in _bring_cams_back(job))
    already = by_draw_length and job.has(Case.TIMING, Case.SET_REPLACED, Case.AFTER_SETTLE_IN)
    steps = [] if already else bring_to(job, StepKey.DRAW_LENGTH, MeasurementKind.DRAW_LENGTH, "check")
    steps += _peak_weight_steps(job)
    steps += bring_to(job, StepKey.AXLE_TO_AXLE, MeasurementKind.AXLE_TO_AXLE, "check")
    for kind in (MeasurementKind.HOLDING_WEIGHT, MeasurementKind.LET_OFF):
        steps += bring_to(job, StepKey.HOLDING_WEIGHT, kind, "check")
    steps += bring_to(job, StepKey.BRACE_HEIGHT, MeasurementKind.BRACE_HEIGHT, "check")
    return steps


def _peak_weight_steps(job: Job) -> list[Step]:
    steps = bring_to(job, StepKey.PEAK_WEIGHT, MeasurementKind.PEAK_WEIGHT, "check")
    if not steps:
        return []
    turn: Phrase = ("; if it is off, turn both limb bolts alike, within the maker's turns",)
    if job.peak_weight_per_turn_n is not None:
        per_turn = Quantity(job.peak_weight_per_turn_n, QuantityKind.FORCE_N)
        turn = (*turn, " (learned from closed orders: ", per_turn, " per turn out)")
    check = steps[0]
    return [Step(check.key, (*check.phrase, *turn), check.kinds)]


def _fitting_steps(job: Job) -> list[Step]:
    """New cords need their fittings; twisting turns the peep, so a twisted string is looked at too."""
    heights = (MeasurementKind.PEEP_HEIGHT, MeasurementKind.NOCKING_HEIGHT)
    if job.has(Case.SET_REPLACED):
        fittings = ["peep", "nocking point", "loop"] if job.has_peep else ["nocking point", "loop"]
        steps = [Step(StepKey.FIT, (f"fit {listed(fittings)}",))]
        for kind in heights:
            steps += bring_to(job, StepKey.FIT, kind, "set")
        return [*steps, *_rest_steps(job)]
    if not _cords_change(job):
        return []
    return [
        step for kind in heights for step in bring_to(job, StepKey.FIT, kind, "the twists may have moved it: check")
    ]


def _rest_steps(job: Job) -> list[Step]:
    square = Step(StepKey.REST, ("set the rest square to the string",))
    return [square, *bring_to(job, StepKey.REST, MeasurementKind.CENTRE_SHOT, "set")]


def _string_bow_steps(job: Job) -> list[Step]:
    steps = [read_as_found(job)]
    changes = _cords_change(job)
    if changes:
        steps.append(Step(StepKey.RELAX, ("unstring the bow with a stringer",)))
        steps += cords_steps(job)
        steps.append(Step(StepKey.LET_UP, ("string it with the stringer; see both loops in their grooves",)))
    elif job.has(Case.AFTER_SETTLE_IN):
        steps += twist_if_outside(job)
    steps += bring_to(job, StepKey.BRACE_HEIGHT, MeasurementKind.BRACE_HEIGHT, "bring back the")
    steps += bring_to(job, StepKey.TILLER, MeasurementKind.TILLER, "check")
    if job.has(Case.SET_REPLACED):
        steps.append(Step(StepKey.FIT, ("fit the nocking point",)))
    steps += bring_to(job, StepKey.NOCKING_HEIGHT, MeasurementKind.NOCKING_HEIGHT, "set" if changes else "check")
    limbs = "look along the string: it runs over the middle of both limbs"
    steps.append(Step(StepKey.LIMB_ALIGNMENT, (limbs,)))
    at_draw = "check, at the archer's or the catalogue draw length, the"
    steps += bring_to(job, StepKey.PEAK_WEIGHT, MeasurementKind.PEAK_WEIGHT, at_draw)
    steps += settle_in_steps(job)
    steps.append(as_left(job))
    return steps
