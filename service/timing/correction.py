"""The order of correction: the technician's order of work, only the steps that this job needs.

Common practice, no source. Every step is a phrase with this bow's numbers in SI; the printing layer chooses the
units and puts the standing cautions beside it.
"""

from __future__ import annotations

from service.said import Said, mark, say
from service.timing.job import (
    BRING_BACK,
    CHECK,
    SET,
    SET_THE,
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
from service.timing.phrases import Quantity, QuantityKind, listed
from service.timing.twists import TwistAdvice
from service.timing.vocabulary import CamSystem, MeasurementKind, name_of

MARKS = (MeasurementKind.TIMING_MARK_UPPER, MeasurementKind.TIMING_MARK_LOWER)
GO_BY = mark("no marks and no hole distances: go by %(name)s: %(wanted)s")
MAY_HAVE_MOVED = mark("the twists may have moved it: check %(name)s: %(wanted)s")
AT_DRAW = mark("check, at the archer's or the catalogue draw length, the %(name)s: %(wanted)s")
HOLES = (MeasurementKind.HOLE_DISTANCE_UPPER, MeasurementKind.HOLE_DISTANCE_LOWER)


def order_of_correction(job: Job) -> tuple[Step, ...]:
    """The steps of this job, in order."""
    if job.cam_system is None:
        return tuple(_string_bow_steps(job))
    return tuple(_compound_steps(job))


def _compound_steps(job: Job) -> list[Step]:
    steps = [read_as_found(job)]
    if _cords_change(job):
        relax = say("relax the bow in a press that fits it; never let it up or down by the string alone")
        steps.append(Step(StepKey.RELAX, relax))
        steps += cords_steps(job)
        steps += _yoke_steps(job)
        steps.append(Step(StepKey.LET_UP, say("see every cord in its track, then let the bow up with the press")))
    if job.has(Case.AFTER_SETTLE_IN):
        steps += twist_if_outside(job)
    if job.has(Case.TIMING, Case.SET_REPLACED, Case.AFTER_SETTLE_IN):
        steps += _bring_cams_back(job)
    steps += _stop_steps(job)
    steps += _draw_board_steps(job)
    steps += _fitting_steps(job)
    steps += settle_in_steps(job)
    if job.has(Case.SET_REPLACED, Case.AFTER_SETTLE_IN):
        marks = say("mark the cams where they now stand; they are the reference from here on")
        steps.append(Step(StepKey.MARK_CAMS, marks))
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
    names = [name_of(position) for position in job.positions if position in job.yoke_positions & touched]
    if not names:
        return []
    phrase = say(
        "%(names)s: the same turns in both yoke legs, or the cam leans; look along the string at the cam",
        names=listed(names),
    )
    return [Step(StepKey.TWIST, phrase)]


def _bring_cams_back(job: Job) -> list[Step]:
    """By the marks; with no marks, by the hole distances; with neither, by draw length. One of the three."""
    for key, kinds, pattern in (
        (StepKey.TIMING_MARKS, MARKS, BRING_BACK),
        (StepKey.HOLE_DISTANCES, HOLES, SET_THE),
    ):
        steps = [step for kind in kinds for step in bring_to(job, key, kind, pattern)]
        if steps:
            return steps
    found = bring_to(job, StepKey.GO_BY_DRAW_LENGTH, MeasurementKind.DRAW_LENGTH, GO_BY)
    if found:
        return found
    phrase = say("no marks, no hole distances and no draw length on record: set the cams by the maker's manual")
    return [Step(StepKey.GO_BY_DRAW_LENGTH, phrase)]


def _stop_steps(job: Job) -> list[Step]:
    steps = []
    if job.has(Case.STOP_CHANGED):
        draw = job.reference(MeasurementKind.DRAW_LENGTH)
        phrase = _set_stop(job)
        if draw is not None:
            phrase = say("%(step)s (draw length %(wanted)s)", step=phrase, wanted=within(draw))
        steps.append(Step(StepKey.SET_STOP, phrase))
    if job.cam_system is CamSystem.SINGLE:
        alone = say("on the draw board, draw to the stop: it must come up firm")
        return [*steps, Step(StepKey.ONE_STOP, alone)]
    together = say("on the draw board, make both stops touch together")
    sync = job.reference(MeasurementKind.STOP_SYNC)
    if sync is None:
        return [*steps, Step(StepKey.STOPS_TOGETHER, together)]
    gap = say(
        "%(step)s; gap at the second stop when the first one touches: %(wanted)s", step=together, wanted=within(sync)
    )
    return [*steps, Step(StepKey.STOPS_TOGETHER, gap, (MeasurementKind.STOP_SYNC,))]


def _set_stop(job: Job) -> Said:
    if not job.module_setting:
        return say(
            "by the maker's manual, set the changed draw stop from the module setting for the draw length, from the "
            "maker's chart"
        )
    return say(
        "by the maker's manual, set the changed draw stop from the module setting for the draw length: %(setting)s",
        setting=job.module_setting,
    )


def _draw_board_steps(job: Job) -> list[Step]:
    by_draw_length = any(step.key is StepKey.GO_BY_DRAW_LENGTH and step.kinds for step in _bring_cams_back(job))
    already = by_draw_length and job.has(Case.TIMING, Case.SET_REPLACED, Case.AFTER_SETTLE_IN)
    steps = [] if already else bring_to(job, StepKey.DRAW_LENGTH, MeasurementKind.DRAW_LENGTH, CHECK)
    steps += _peak_weight_steps(job)
    steps += bring_to(job, StepKey.AXLE_TO_AXLE, MeasurementKind.AXLE_TO_AXLE, CHECK)
    for kind in (MeasurementKind.HOLDING_WEIGHT, MeasurementKind.LET_OFF):
        steps += bring_to(job, StepKey.HOLDING_WEIGHT, kind, CHECK)
    steps += bring_to(job, StepKey.BRACE_HEIGHT, MeasurementKind.BRACE_HEIGHT, CHECK)
    return steps


def _peak_weight_steps(job: Job) -> list[Step]:
    steps = bring_to(job, StepKey.PEAK_WEIGHT, MeasurementKind.PEAK_WEIGHT, CHECK)
    if not steps:
        return []
    check = steps[0]
    phrase = say("%(step)s; if it is off, turn both limb bolts alike, within the maker's turns", step=check.phrase)
    if job.peak_weight_per_turn_n is not None:
        per_turn = Quantity(job.peak_weight_per_turn_n, QuantityKind.FORCE_N)
        phrase = say("%(step)s (learned from closed orders: %(force)s per turn out)", step=phrase, force=per_turn)
    return [Step(check.key, phrase, check.kinds)]


def _fitting_steps(job: Job) -> list[Step]:
    """New cords need their fittings; twisting turns the peep, so a twisted string is looked at too."""
    heights = (MeasurementKind.PEEP_HEIGHT, MeasurementKind.NOCKING_HEIGHT)
    if job.has(Case.SET_REPLACED):
        fit = say("fit peep, nocking point and loop") if job.has_peep else say("fit nocking point and loop")
        steps = [Step(StepKey.FIT, fit)]
        for kind in heights:
            steps += bring_to(job, StepKey.FIT, kind, SET)
        return [*steps, *_rest_steps(job)]
    if not _cords_change(job):
        return []
    return [step for kind in heights for step in bring_to(job, StepKey.FIT, kind, MAY_HAVE_MOVED)]


def _rest_steps(job: Job) -> list[Step]:
    square = Step(StepKey.REST, say("set the rest square to the string"))
    return [square, *bring_to(job, StepKey.REST, MeasurementKind.CENTRE_SHOT, SET)]


def _string_bow_steps(job: Job) -> list[Step]:
    steps = [read_as_found(job)]
    changes = _cords_change(job)
    if changes:
        steps.append(Step(StepKey.RELAX, say("unstring the bow with a stringer")))
        steps += cords_steps(job)
        steps.append(Step(StepKey.LET_UP, say("string it with the stringer; see both loops in their grooves")))
    elif job.has(Case.AFTER_SETTLE_IN):
        steps += twist_if_outside(job)
    steps += bring_to(job, StepKey.BRACE_HEIGHT, MeasurementKind.BRACE_HEIGHT, BRING_BACK)
    steps += bring_to(job, StepKey.TILLER, MeasurementKind.TILLER, CHECK)
    if job.has(Case.SET_REPLACED):
        steps.append(Step(StepKey.FIT, say("fit the nocking point")))
    steps += bring_to(job, StepKey.NOCKING_HEIGHT, MeasurementKind.NOCKING_HEIGHT, SET if changes else CHECK)
    limbs = say("look along the string: it runs over the middle of both limbs")
    steps.append(Step(StepKey.LIMB_ALIGNMENT, limbs))
    steps += bring_to(job, StepKey.PEAK_WEIGHT, MeasurementKind.PEAK_WEIGHT, AT_DRAW)
    steps += settle_in_steps(job)
    steps.append(as_left(job))
    return steps
