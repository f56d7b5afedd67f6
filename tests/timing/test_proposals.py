"""From a diagnosis to twists, and what the rule should read after them."""

import pytest

from service.timing.diagnosis import Verdict, diagnose
from service.timing.directions import Direction
from service.timing.expected import expected_after
from service.timing.geometry import StringBowGeometry
from service.timing.kinematics import drift
from service.timing.proposals import twists_for
from service.timing.readings import Reading
from service.timing.twists import Cord, TwistedLength
from service.timing.vocabulary import BowKind, CamSystem, MeasurementKind, Position
from tests.timing.test_diagnosis import REFERENCES_M, geometry_of, readings_of

KIND = MeasurementKind


def cords_of(geometry, turns=24):
    return [Cord(position, TwistedLength(0.95, turns)) for position in geometry.positions]


def test_twists_bring_the_readings_back_to_their_references():
    geometry = geometry_of(CamSystem.TWIN)
    readings = readings_of(geometry, {Position.UPPER_CABLE: 3e-3})
    proposals = twists_for(diagnose(geometry, readings), cords_of(geometry))
    assert [one.position for one in proposals] == [Position.UPPER_CABLE]
    found = {one.kind: one.found_si for one in readings}
    expected = expected_after(geometry, found, proposals)
    # Half a turn is the finest that a bench sets, and the slope estimate bends a little over several turns.
    left_m = abs(proposals[0].expected_shortening_m - 3e-3)
    assert left_m < 0.5e-3
    for kind, reading in expected.items():
        assert reading.expected_si == pytest.approx(REFERENCES_M[kind], abs=left_m + 1e-9)


def test_expected_readings_are_found_plus_drift_of_the_shortening():
    geometry = geometry_of(CamSystem.HYBRID)
    readings = readings_of(geometry, {Position.BUSS_CABLE: 4e-3})
    proposals = twists_for(diagnose(geometry, readings), cords_of(geometry))
    changes = drift(geometry, {Position.BUSS_CABLE: -proposals[0].expected_shortening_m})
    found = {one.kind: one.found_si for one in readings} | {KIND.DRAW_LENGTH: 0.70, KIND.PEEP_HEIGHT: 0.12}
    expected = expected_after(geometry, found, proposals)
    for kind, change in changes.items():
        assert expected[kind].expected_si == pytest.approx(found[kind] + change, abs=1e-12)
        assert not expected[kind].rests_on_assumed
    assert expected[KIND.DRAW_LENGTH].expected_si is None
    assert expected[KIND.DRAW_LENGTH].direction is Direction.RISES
    assert KIND.PEEP_HEIGHT not in expected


def test_recurve_string_is_twisted_up_to_its_brace_height():
    recurve = StringBowGeometry(BowKind.RECURVE)
    reading = Reading(KIND.BRACE_HEIGHT, 0.21, 0.2030, 0.0254 / 32)
    string = Cord(Position.STRING, TwistedLength(1.60, 25))
    proposals = twists_for(diagnose(recurve, [reading]), [string])
    assert proposals[0].half_turns > 0
    expected = expected_after(recurve, {KIND.BRACE_HEIGHT: 0.2030}, proposals)[KIND.BRACE_HEIGHT]
    assert expected.expected_si == pytest.approx(0.21, abs=1e-3)
    assert expected.rests_on_assumed


def test_no_twists_where_the_bench_cannot_tell():
    geometry = geometry_of(CamSystem.TWIN)
    diagnosis = diagnose(geometry, readings_of(geometry, {Position.STRING: 6e-3}, [KIND.AXLE_TO_AXLE]))
    assert diagnosis.verdict is Verdict.CANNOT_TELL
    assert twists_for(diagnosis, cords_of(geometry)) == ()


def test_a_cord_that_is_not_on_record_is_asked_for():
    geometry = geometry_of(CamSystem.TWIN)
    diagnosis = diagnose(geometry, readings_of(geometry, {Position.STRING: 4e-3}))
    with pytest.raises(ValueError, match="no length and twists recorded for the string"):
        twists_for(diagnosis, [])
