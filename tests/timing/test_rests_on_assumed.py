"""Which predictions rest on an arm that nobody measured, and what readings that can be believed say of each cord."""

from dataclasses import replace

import pytest

from service.timing.diagnosis import believed_stretch
from service.timing.expected import expected_after
from service.timing.geometry import (
    DEFAULT_ARMS_M,
    ArmName,
    StopKind,
    StringBowGeometry,
    bow_geometry,
    draw_stops,
    measured,
)
from service.timing.kinematics import drift, drift_matrix, kinds_on_assumed
from service.timing.readings import Reading
from service.timing.units import INCH_M
from service.timing.vocabulary import BowKind, CamSystem, MeasurementKind, Position

STOPS = draw_stops(StopKind.LIMB)
ALL_MEASURED = bow_geometry(CamSystem.TWIN, DEFAULT_ARMS_M, DEFAULT_ARMS_M, STOPS)


@pytest.mark.parametrize("system", [CamSystem.TWIN, CamSystem.HYBRID, CamSystem.BINARY])
def test_with_nothing_measured_everything_does(system):
    geometry = bow_geometry(system, stops=STOPS)
    assert kinds_on_assumed(geometry) == set(drift_matrix(geometry).kinds)


def test_with_every_arm_measured_only_the_stops_do():
    assert kinds_on_assumed(ALL_MEASURED) == {MeasurementKind.STOP_SYNC}


def test_a_hole_travel_that_is_assumed_touches_its_own_hole_alone():
    arms = {name: value for name, value in DEFAULT_ARMS_M.items() if name is not ArmName.HOLE_TRAVEL}
    geometry = bow_geometry(CamSystem.TWIN, arms, DEFAULT_ARMS_M)
    assert kinds_on_assumed(geometry) == {MeasurementKind.HOLE_DISTANCE_UPPER}


def test_a_recurve_rests_on_its_ratio_until_that_is_known():
    recurve = StringBowGeometry(BowKind.RECURVE)
    assert kinds_on_assumed(recurve) == {MeasurementKind.BRACE_HEIGHT}
    assert kinds_on_assumed(replace(recurve, brace_height_ratio=measured(1.4, 0.1))) == set()


def expected_on_assumed(geometry):
    found = dict.fromkeys(
        (MeasurementKind.AXLE_TO_AXLE, MeasurementKind.TIMING_MARK_UPPER, MeasurementKind.STOP_SYNC), 0.0
    )
    return {kind for kind, one in expected_after(geometry, found, []).items() if one.rests_on_assumed}


def test_what_should_be_read_rests_on_what_its_twists_rest_on():
    """Assumed stops touch stop sync alone, which no diagnosis weighs; an assumed arm touches every reading."""
    assert expected_on_assumed(ALL_MEASURED) == {MeasurementKind.STOP_SYNC}
    arms = {name: value for name, value in DEFAULT_ARMS_M.items() if name is not ArmName.HOLE_TRAVEL}
    one_assumed = bow_geometry(CamSystem.TWIN, arms, DEFAULT_ARMS_M, STOPS)
    assert MeasurementKind.AXLE_TO_AXLE in expected_on_assumed(one_assumed)


def readings_of(stretch_m: dict[Position, float]) -> list[Reading]:
    changes = drift(ALL_MEASURED, stretch_m)
    return [Reading(kind, 0.1, 0.1 + change, INCH_M / 64) for kind, change in changes.items()]


def test_what_is_believed_is_the_stretch_that_was_there():
    truth = {Position.STRING: 0.002, Position.UPPER_CABLE: 0.001, Position.LOWER_CABLE: 0.0005}
    found = believed_stretch(ALL_MEASURED, readings_of(truth))
    assert {position: value for position, (value, _) in found.items()} == pytest.approx(truth, abs=1e-9)
    assert all(0.0 < error < 0.002 for _, error in found.values())


def test_a_reading_off_by_an_inch_makes_none_of_it_believed():
    readings = readings_of({Position.STRING: 0.002})
    readings[0] = replace(readings[0], found_si=readings[0].found_si + INCH_M)
    assert believed_stretch(ALL_MEASURED, readings) == {}


def test_too_few_readings_leave_the_cords_out_that_they_do_not_determine():
    readings = [one for one in readings_of({Position.STRING: 0.002}) if one.kind is MeasurementKind.AXLE_TO_AXLE]
    assert believed_stretch(ALL_MEASURED, readings) == {}
