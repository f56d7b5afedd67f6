"""Which cord moved, when the bench cannot tell, and readings that cannot be."""

import numpy as np
import pytest

from service.timing.diagnosis import Verdict, diagnose, significance
from service.timing.geometry import (
    DEFAULT_ARMS_M,
    ArmName,
    Known,
    Provenance,
    StopKind,
    StringBowGeometry,
    bow_geometry,
    draw_stops,
)
from service.timing.kinematics import drift
from service.timing.phrases import plain
from service.timing.plausibility import SuspicionKind
from service.timing.readings import Reading
from service.timing.settling import SettlingHow
from service.timing.vocabulary import BowKind, CamSystem, MeasurementKind, Position

KIND = MeasurementKind
INCH_M = 0.0254
RULE_M = INCH_M / 64
MOVED_M = INCH_M * 3 / 16
REFERENCES_M = {
    KIND.AXLE_TO_AXLE: 0.800,
    KIND.HOLE_DISTANCE_UPPER: 0.018,
    KIND.HOLE_DISTANCE_LOWER: 0.026,
    KIND.TIMING_MARK_UPPER: 0.012,
    KIND.TIMING_MARK_LOWER: 0.020,
    KIND.STOP_SYNC: 0.0,
    KIND.BRACE_HEIGHT: 0.178,
    KIND.DRAW_LENGTH: 0.710,
}
ALL_AT_BRACE = tuple(REFERENCES_M)[:5]


def geometry_of(cam_system):
    """Every arm measured, at the default's size."""
    arms = dict(DEFAULT_ARMS_M)
    return bow_geometry(cam_system, None if cam_system is CamSystem.SINGLE else arms, arms)


def readings_of(geometry, stretch_m, kinds=None, misread_m=None):
    changes = drift(geometry, stretch_m)
    chosen = [kind for kind in (kinds or changes) if kind in changes]
    return [
        Reading(
            kind,
            REFERENCES_M[kind],
            REFERENCES_M[kind] + changes[kind] + (misread_m or {}).get(kind, 0.0),
            RULE_M,
        )
        for kind in chosen
    ]


def texts(diagnosis):
    return " / ".join(plain(phrase) for phrase in diagnosis.phrases)


CORDS = [(system, position) for system in CamSystem for position in bow_geometry(system).positions]


@pytest.mark.parametrize(("cam_system", "position"), CORDS)
def test_names_the_one_cord_that_moved_and_by_how_much(cam_system, position):
    geometry = geometry_of(cam_system)
    diagnosis = diagnose(geometry, readings_of(geometry, {position: MOVED_M}))
    assert diagnosis.verdict is Verdict.MOVED
    assert diagnosis.moved == (position,)
    for cord in diagnosis.stretches:
        true_m = MOVED_M if cord.position is position else 0.0
        assert cord.stretch_m == pytest.approx(true_m, abs=1e-9)
        assert 0 < cord.standard_error_m < 1.2e-3
    assert "is 4.76 mm longer" in texts(diagnosis)


def test_names_every_cord_when_all_moved():
    geometry = geometry_of(CamSystem.HYBRID)
    stretch = dict.fromkeys(geometry.positions, INCH_M / 8)
    assert set(diagnose(geometry, readings_of(geometry, stretch)).moved) == set(geometry.positions)


def test_nothing_moved_is_said_so():
    geometry = geometry_of(CamSystem.TWIN)
    diagnosis = diagnose(geometry, readings_of(geometry, {}))
    assert (diagnosis.verdict, diagnosis.moved) == (Verdict.NOTHING_SEEN, ())


def test_standard_error_is_that_of_repeated_readings():
    """Monte Carlo in place of the formula: readings scattered as their standard errors say."""
    geometry = geometry_of(CamSystem.TWIN)
    exact = geometry.with_parameters(
        {name: Known(known.value, 1e-12, Provenance.MEASURED) for name, known in geometry.parameters().items()}
    )
    random = np.random.default_rng(5)
    readings = readings_of(exact, {Position.STRING: 2e-3})
    found = []
    for _ in range(400):
        scattered = [
            Reading(
                one.kind,
                one.reference_si,
                one.found_si + random.normal(0, one.standard_error_si),
                RULE_M,
                True,
            )
            for one in readings
        ]
        found.append([cord.stretch_m for cord in diagnose(exact, scattered).stretches])
    told = [cord.standard_error_m for cord in diagnose(exact, readings).stretches]
    assert np.std(found, axis=0) == pytest.approx(told, rel=0.15)
    assert np.mean(found, axis=0) == pytest.approx([2e-3, 0, 0], abs=1e-4)


def test_axle_to_axle_alone_cannot_tell_and_asks_for_both_marks():
    geometry = geometry_of(CamSystem.TWIN)
    diagnosis = diagnose(geometry, readings_of(geometry, {Position.UPPER_CABLE: 6e-3}, [KIND.AXLE_TO_AXLE]))
    assert diagnosis.verdict is Verdict.CANNOT_TELL
    assert set(diagnosis.confounded) == set(geometry.positions)
    assert diagnosis.rank == 1 and diagnosis.condition == float("inf")
    assert set(diagnosis.settling.kinds) == {KIND.TIMING_MARK_UPPER, KIND.TIMING_MARK_LOWER}
    assert "cannot tell which cord moved" in texts(diagnosis)


@pytest.mark.parametrize("cam_system", [CamSystem.HYBRID, CamSystem.BINARY])
def test_one_missing_measurement_is_named(cam_system):
    geometry = geometry_of(cam_system)
    kinds = [KIND.AXLE_TO_AXLE, KIND.TIMING_MARK_UPPER]
    diagnosis = diagnose(geometry, readings_of(geometry, {Position.STRING: 6e-3}, kinds))
    assert diagnosis.verdict is Verdict.CANNOT_TELL
    assert diagnosis.settling.how is SettlingHow.ALSO_MEASURE
    assert diagnosis.settling.kinds == (KIND.TIMING_MARK_LOWER,)
    assert diagnosis.settling.settles


def test_taking_the_named_measurement_settles_it():
    geometry = geometry_of(CamSystem.BINARY)
    stretch = {Position.STRING: 6e-3}
    kinds = [KIND.AXLE_TO_AXLE, KIND.TIMING_MARK_UPPER]
    asked = diagnose(geometry, readings_of(geometry, stretch, kinds)).settling.kinds
    settled = diagnose(geometry, readings_of(geometry, stretch, [*kinds, *asked]))
    assert (settled.verdict, settled.moved) == (Verdict.MOVED, (Position.STRING,))


def test_a_cord_that_is_determined_is_named_though_others_are_confounded():
    """Twin: axle to axle and the upper mark give the upper cable by themselves (stretch = a - c t)."""
    geometry = geometry_of(CamSystem.TWIN)
    kinds = [KIND.AXLE_TO_AXLE, KIND.TIMING_MARK_UPPER]
    diagnosis = diagnose(geometry, readings_of(geometry, {Position.UPPER_CABLE: 4e-3}, kinds))
    assert diagnosis.moved == (Position.UPPER_CABLE,)
    assert set(diagnosis.confounded) == {Position.STRING, Position.LOWER_CABLE}


def test_no_readings_cannot_tell():
    diagnosis = diagnose(geometry_of(CamSystem.TWIN), [])
    assert diagnosis.verdict is Verdict.CANNOT_TELL
    assert len(diagnosis.settling.kinds) >= 1


def test_assumed_arms_widen_the_error_and_are_said():
    measured, assumed = geometry_of(CamSystem.TWIN), bow_geometry(CamSystem.TWIN)
    stretch = {Position.LOWER_CABLE: 4e-3}
    sure = diagnose(measured, readings_of(measured, stretch))
    unsure = diagnose(assumed, readings_of(assumed, stretch))
    assert unsure.stretches[2].standard_error_m > sure.stretches[2].standard_error_m
    assert "lower.take_up" in unsure.assumed and sure.assumed == ()
    assert "brace arms are assumed" in texts(unsure) and "assumed" not in texts(sure)


def test_stop_sync_waits_for_a_known_full_draw_ratio():
    waiting = bow_geometry(CamSystem.TWIN, stops=draw_stops(StopKind.LIMB))
    readings = readings_of(waiting, {Position.UPPER_CABLE: 3e-3})
    assert KIND.STOP_SYNC not in diagnose(waiting, readings).used
    ratio = Known(1.0, 0.05, Provenance.LEARNED)
    learned = bow_geometry(CamSystem.TWIN, stops=draw_stops(StopKind.LIMB, ratio=ratio))
    assert KIND.STOP_SYNC in diagnose(learned, readings).used


@pytest.mark.parametrize("kind", ALL_AT_BRACE)
@pytest.mark.parametrize("inch", [INCH_M, -INCH_M])
def test_off_by_an_inch_is_named_on_every_kind(kind, inch):
    geometry = geometry_of(CamSystem.TWIN)
    readings = readings_of(geometry, {Position.STRING: 3e-3}, misread_m={kind: inch})
    diagnosis = diagnose(geometry, readings)
    assert diagnosis.verdict is Verdict.READ_AGAIN
    assert [(one.what, one.kinds) for one in diagnosis.suspicions] == [(SuspicionKind.OFF_BY_AN_INCH, (kind,))]
    assert kind not in diagnosis.used
    # What remains still gives the right stretch beside the warning; without axle to axle it is not determined.
    string = diagnosis.stretches[0].stretch_m
    assert string is None if kind is KIND.AXLE_TO_AXLE else string == pytest.approx(3e-3, abs=1e-6)


@pytest.mark.parametrize("pair", ["hole_distance", "timing_mark"])
@pytest.mark.parametrize("kinds", [ALL_AT_BRACE, None])
def test_swapped_top_and_bottom_is_named(pair, kinds):
    geometry = geometry_of(CamSystem.HYBRID)
    only = kinds or (KIND.AXLE_TO_AXLE, KIND(f"{pair}_upper"), KIND(f"{pair}_lower"))
    by_kind = {one.kind: one for one in readings_of(geometry, {Position.STRING: 1e-3}, only)}
    upper, lower = by_kind[KIND(f"{pair}_upper")], by_kind[KIND(f"{pair}_lower")]
    by_kind[upper.kind] = Reading(upper.kind, upper.reference_si, lower.found_si, RULE_M)
    by_kind[lower.kind] = Reading(lower.kind, lower.reference_si, upper.found_si, RULE_M)
    diagnosis = diagnose(geometry, list(by_kind.values()))
    assert diagnosis.verdict is Verdict.READ_AGAIN
    assert [one.what for one in diagnosis.suspicions] == [SuspicionKind.SWAPPED]


def test_a_cord_found_shorter_is_questioned():
    geometry = geometry_of(CamSystem.TWIN)
    diagnosis = diagnose(geometry, readings_of(geometry, {Position.UPPER_CABLE: -3e-3}))
    assert diagnosis.moved == (Position.UPPER_CABLE,)
    assert "3.00 mm shorter" in texts(diagnosis)
    assert "cords do not shrink" in texts(diagnosis)


def test_a_reading_no_stretch_explains_is_named():
    geometry = geometry_of(CamSystem.TWIN)
    diagnosis = diagnose(geometry, [Reading(KIND.AXLE_TO_AXLE, 0.8, 0.8 + 0.014, RULE_M)])
    assert [one.what for one in diagnosis.suspicions] == [SuspicionKind.TOO_LARGE]
    assert "off its track" in texts(diagnosis)


def test_a_reading_that_disagrees_is_named_with_the_other_of_its_cam():
    geometry = geometry_of(CamSystem.TWIN)
    readings = readings_of(geometry, {Position.STRING: 3e-3}, misread_m={KIND.TIMING_MARK_UPPER: INCH_M / 4})
    diagnosis = diagnose(geometry, readings)
    assert diagnosis.verdict is Verdict.READ_AGAIN
    assert diagnosis.suspicions[0].what is SuspicionKind.DISAGREES
    assert KIND.TIMING_MARK_UPPER in diagnosis.suspicions[0].kinds
    assert set(diagnosis.suspicions[0].kinds) <= {KIND.TIMING_MARK_UPPER, KIND.HOLE_DISTANCE_UPPER}


def test_confirmed_readings_are_believed_but_not_explained_away():
    geometry = geometry_of(CamSystem.TWIN)
    odd = readings_of(geometry, {Position.STRING: 3e-3}, misread_m={KIND.TIMING_MARK_UPPER: INCH_M / 4})
    confirmed = [Reading(one.kind, one.reference_si, one.found_si, RULE_M, True) for one in odd]
    diagnosis = diagnose(geometry, confirmed)
    assert diagnosis.suspicions == ()
    assert diagnosis.verdict is Verdict.CANNOT_TELL
    assert "contradict" in texts(diagnosis)


def test_unmodelled_lengths_are_only_looked_at_for_an_inch():
    geometry = geometry_of(CamSystem.TWIN)
    odd = Reading(KIND.BRACE_HEIGHT, 0.178, 0.178 + INCH_M, RULE_M)
    fine = Reading(KIND.DRAW_LENGTH, 0.71, 0.71 + INCH_M / 4, RULE_M)
    diagnosis = diagnose(geometry, [odd, fine, *readings_of(geometry, {Position.STRING: 3e-3})])
    assert [one.kinds for one in diagnosis.suspicions] == [(KIND.BRACE_HEIGHT,)]


def test_recurve_string_from_its_brace_height():
    recurve = StringBowGeometry(BowKind.RECURVE)
    diagnosis = diagnose(recurve, [Reading(KIND.BRACE_HEIGHT, 0.21, 0.2044, INCH_M / 32)])
    assert diagnosis.moved == (Position.STRING,)
    assert diagnosis.stretches[0].stretch_m == pytest.approx(4e-3)
    assert "assumed" in texts(diagnosis)


def test_a_kind_given_twice_is_refused():
    reading = Reading(KIND.AXLE_TO_AXLE, 0.8, 0.8)
    with pytest.raises(ValueError, match="axle to axle was given more than once"):
        diagnose(geometry_of(CamSystem.TWIN), [reading, reading])


@pytest.mark.parametrize(
    ("found", "resolution", "words"),
    [(float("nan"), RULE_M, "found is nan"), (0.8, 0.0, "must be above 0")],
)
def test_impossible_readings_are_refused(found, resolution, words):
    with pytest.raises(ValueError, match=words):
        Reading(KIND.AXLE_TO_AXLE, 0.8, found, resolution)


def test_significance_shares_the_error_among_the_cords():
    assert significance(3) > significance(2) > significance(1) > 2.5


@pytest.mark.parametrize(
    ("arms", "words"),
    [
        ({ArmName.STRING: 0.9}, "string of 900.0 mm is outside 5 to 150 mm"),
        ({ArmName.HOLE_TRAVEL: 0.0}, "hole travel of 0.0 mm is outside 2 to 100 mm"),
        ({ArmName.TAKE_UP: 0.010, ArmName.LET_OUT: 0.015}, "let-out arm of 15.0 mm must be shorter than the take-up"),
    ],
)
def test_impossible_arms_are_refused_with_the_range(arms, words):
    with pytest.raises(ValueError, match=words):
        bow_geometry(CamSystem.BINARY, arms, None)
