"""The order of correction, per case of the technician's order of work. Common practice, no source."""

import pytest

from service.timing.correction import order_of_correction
from service.timing.job import Case, Job, NewCordTwists, StepKey
from service.timing.phrases import Quantity, QuantityKind, plain, quantities
from service.timing.tolerance import DEFAULT_TOLERANCES_SI, Reference
from service.timing.twists import Cord, TwistedLength, propose
from service.timing.vocabulary import BowKind, CamSystem, MeasurementKind, Position

KIND = MeasurementKind
VALUES_SI = {
    KIND.AXLE_TO_AXLE: 0.8128,
    KIND.TIMING_MARK_UPPER: 0.0127,
    KIND.TIMING_MARK_LOWER: 0.0127,
    KIND.HOLE_DISTANCE_UPPER: 0.0190,
    KIND.HOLE_DISTANCE_LOWER: 0.0190,
    KIND.STOP_SYNC: 0.0,
    KIND.DRAW_LENGTH: 0.7112,
    KIND.PEAK_WEIGHT: 266.9,
    KIND.BRACE_HEIGHT: 0.1778,
    KIND.NOCKING_HEIGHT: 0.0064,
    KIND.PEEP_HEIGHT: 0.1270,
}
MARKS = (KIND.TIMING_MARK_UPPER, KIND.TIMING_MARK_LOWER)
HOLES = (KIND.HOLE_DISTANCE_UPPER, KIND.HOLE_DISTANCE_LOWER)
UPPER_CABLE = propose(Cord(Position.UPPER_CABLE, TwistedLength(0.95, 24)), 2e-3)


def job_of(*cases, without=(), cam_system=CamSystem.TWIN, **more):
    references = [
        Reference(kind, value, DEFAULT_TOLERANCES_SI[kind]) for kind, value in VALUES_SI.items() if kind not in without
    ]
    return Job(BowKind.COMPOUND, frozenset(cases), references, cam_system, **more)


def keys(job):
    found = []
    for step in order_of_correction(job):
        if not found or found[-1] is not step.key:
            found.append(step.key)
    return found


def text(job):
    return "\n".join(plain(step.phrase) for step in order_of_correction(job))


def test_by_the_marks():
    job = job_of(Case.TIMING, proposals=[UPPER_CABLE])
    assert keys(job) == [
        StepKey.READ_AS_FOUND,
        StepKey.RELAX,
        StepKey.TWIST,
        StepKey.LET_UP,
        StepKey.TIMING_MARKS,
        StepKey.STOPS_TOGETHER,
        StepKey.DRAW_LENGTH,
        StepKey.PEAK_WEIGHT,
        StepKey.AXLE_TO_AXLE,
        StepKey.BRACE_HEIGHT,
        StepKey.FIT,
        StepKey.AS_LEFT,
    ]
    assert f"upper cable: add {UPPER_CABLE.half_turns} half turns" in text(job)
    assert "upper timing mark: 12.70 mm, within ±0.79 mm" in text(job)


def test_with_no_marks_by_the_hole_distances():
    found = keys(job_of(Case.TIMING, without=MARKS, proposals=[UPPER_CABLE]))
    assert StepKey.HOLE_DISTANCES in found and StepKey.TIMING_MARKS not in found


def test_with_neither_by_draw_length_and_only_once():
    job = job_of(Case.TIMING, without=MARKS + HOLES, proposals=[UPPER_CABLE])
    found = keys(job)
    assert StepKey.GO_BY_DRAW_LENGTH in found and StepKey.DRAW_LENGTH not in found
    nothing = job_of(Case.TIMING, without=(*MARKS, *HOLES, KIND.DRAW_LENGTH))
    assert "set the cams by the maker's manual" in text(nothing)


def test_a_stop_that_was_bent_or_replaced_is_set_from_the_module_setting_before_the_stops_are_matched():
    job = job_of(Case.STOP_CHANGED, module_setting="module C, stop 4")
    found = keys(job)
    assert found.index(StepKey.SET_STOP) < found.index(StepKey.STOPS_TOGETHER)
    assert "module C, stop 4" in text(job)
    assert not {StepKey.RELAX, StepKey.TWIST, StepKey.TIMING_MARKS} & set(found)


def test_before_the_readings_name_a_cord_every_yoke_is_warned_of():
    yoke = frozenset({Position.UPPER_CABLE})
    assert "upper cable: the same turns in both yoke legs" in text(job_of(Case.TIMING, yoke_positions=yoke))
    string = propose(Cord(Position.STRING, TwistedLength(1.5, 24)), 2e-3)
    assert "yoke legs" not in text(job_of(Case.TIMING, proposals=[string], yoke_positions=yoke))


def test_what_is_read_at_full_draw_is_read_on_the_board_only():
    assert "draw it on the board only, and not at all while a finding stands" in text(job_of(Case.TIMING))
    at_brace = [KIND.STOP_SYNC, KIND.DRAW_LENGTH, KIND.PEAK_WEIGHT]
    first = order_of_correction(job_of(Case.TIMING, without=at_brace))[0]
    assert "board" not in plain(first.phrase)


def test_a_full_set_is_replaced_fitted_shot_in_and_measured_again():
    new = [NewCordTwists(Position.STRING, 20), NewCordTwists(Position.UPPER_CABLE, 24)]
    job = job_of(Case.SET_REPLACED, new_cords=new, yoke_positions=frozenset({Position.UPPER_CABLE}))
    found = keys(job)
    order = [StepKey.REPLACE_SET, StepKey.TIMING_MARKS, StepKey.STOPS_TOGETHER, StepKey.FIT]
    order += [StepKey.SETTLE_IN, StepKey.MEASURE_AGAIN, StepKey.MARK_CAMS, StepKey.AS_LEFT]
    assert [key for key in found if key in order] == order
    assert "string: put in 20.0 turns before it goes on" in text(job)
    assert "100 shots" in text(job)
    assert "the same turns in both yoke legs" in text(job)


def test_after_settle_in_the_cams_are_marked_and_nothing_is_shot_in_again():
    found = keys(job_of(Case.AFTER_SETTLE_IN))
    assert StepKey.MARK_CAMS in found
    assert not {StepKey.SETTLE_IN, StepKey.RELAX, StepKey.REPLACE_SET, StepKey.FIT} & set(found)
    twisted = keys(job_of(Case.AFTER_SETTLE_IN, proposals=[UPPER_CABLE]))
    assert twisted.index(StepKey.RELAX) < twisted.index(StepKey.TWIST) < twisted.index(StepKey.MARK_CAMS)


def test_a_set_and_a_stop_at_once_take_the_steps_of_both():
    found = keys(job_of(Case.SET_REPLACED, Case.STOP_CHANGED))
    assert found.index(StepKey.REPLACE_SET) < found.index(StepKey.SET_STOP) < found.index(StepKey.STOPS_TOGETHER)


CORDS = [
    Cord(Position.STRING, TwistedLength(1.5, 24)),
    Cord(Position.UPPER_CABLE, TwistedLength(0.95, 3)),
    Cord(Position.LOWER_CABLE, TwistedLength(0.95, 0), turns_counted=False),
]


def test_before_the_readings_have_spoken_each_cord_says_what_half_a_turn_does():
    words = text(job_of(Case.TIMING, cords=CORDS))
    assert "twist the cord that has moved, as the order's page finds it" in words
    assert "string: 6 half turns more shorten it by about 1.59 mm" in words
    assert "upper cable: only 3.0 turns in it, twist until the mark returns" in words
    assert "lower cable: count its turns first" in words
    spoken = text(job_of(Case.TIMING, cords=CORDS, proposals=[UPPER_CABLE]))
    assert "the cord that has moved" not in spoken and "upper cable: add" in spoken


def test_after_settle_in_the_press_is_for_what_is_outside_only():
    words = text(job_of(Case.AFTER_SETTLE_IN, cords=CORDS))
    assert "only if a reading is outside: in a press that fits the bow" in words
    string_bow = Job(BowKind.RECURVE, frozenset({Case.AFTER_SETTLE_IN}), [], cords=CORDS[:1])
    assert "unstrung by a stringer" in text(string_bow) and "press" not in text(string_bow)


def test_a_single_cam_has_one_stop_and_no_sync():
    without = (KIND.TIMING_MARK_UPPER, KIND.HOLE_DISTANCE_UPPER, KIND.STOP_SYNC)
    found = keys(job_of(Case.TIMING, cam_system=CamSystem.SINGLE, without=without))
    assert StepKey.ONE_STOP in found and StepKey.STOPS_TOGETHER not in found


def test_every_job_reads_first_and_writes_as_left_last():
    for case in Case:
        found = keys(job_of(case))
        assert (found[0], found[-1]) == (StepKey.READ_AS_FOUND, StepKey.AS_LEFT)


def test_peak_weight_per_turn_is_shown_only_when_learned():
    assert "per turn out" not in text(job_of(Case.TIMING))
    assert "-8.0 N per turn out" in text(job_of(Case.TIMING, peak_weight_per_turn_n=-8.0))


def test_numbers_stay_apart_for_the_printing_layer():
    step = next(one for one in order_of_correction(job_of(Case.TIMING)) if one.key is StepKey.PEAK_WEIGHT)
    weight, tolerance = quantities(step.phrase)
    assert weight == Quantity(266.9, QuantityKind.FORCE_N)
    assert tolerance.value == pytest.approx(4.448, abs=1e-3)


@pytest.mark.parametrize("bow_kind", [BowKind.RECURVE, BowKind.LONGBOW])
def test_a_string_bow_goes_by_brace_height(bow_kind):
    references = [
        Reference(KIND.BRACE_HEIGHT, 0.2159, 0.003175),
        Reference(KIND.TILLER, 0.003, 0.0016),
        Reference(KIND.NOCKING_HEIGHT, 0.006, 0.0016),
        Reference(KIND.PEAK_WEIGHT, 178.0, 8.9),
    ]
    string = propose(Cord(Position.STRING, TwistedLength(1.6, 20)), 2e-3)
    job = Job(bow_kind, frozenset({Case.TIMING}), references, proposals=[string])
    assert keys(job) == [
        StepKey.READ_AS_FOUND,
        StepKey.RELAX,
        StepKey.TWIST,
        StepKey.LET_UP,
        StepKey.BRACE_HEIGHT,
        StepKey.TILLER,
        StepKey.NOCKING_HEIGHT,
        StepKey.LIMB_ALIGNMENT,
        StepKey.PEAK_WEIGHT,
        StepKey.AS_LEFT,
    ]
    assert "press" not in text(job) and "stringer" in text(job)


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (lambda: Job(BowKind.RECURVE, frozenset({Case.STOP_CHANGED}), []), "has no draw stops"),
        (lambda: Job(BowKind.COMPOUND, frozenset({Case.TIMING}), []), "correct the spec sheet"),
        (lambda: job_of(), "needs at least one case"),
        (lambda: job_of(Case.TIMING, settle_in_shots=0), "must be 1 shot or more"),
        (lambda: job_of(Case.TIMING, cam_system=CamSystem.HYBRID, proposals=[UPPER_CABLE]), "not on this bow"),
    ],
)
def test_impossible_jobs_are_refused(build, words):
    with pytest.raises(ValueError, match=words):
        build()
