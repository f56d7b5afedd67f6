"""Which way measurements go when cords stretch. Common practice, no source."""

import pytest

from service.timing.directions import Direction, expected_directions
from service.timing.geometry import StringBowGeometry, bow_geometry
from service.timing.kinematics import drift, movement
from service.timing.vocabulary import BowKind, CamSystem, MeasurementKind, Position

KIND = MeasurementKind
STRETCH_M = 1.5e-3
ALL = list(CamSystem)


def cables(geometry):
    return {position: STRETCH_M for position in geometry.positions if position is not Position.STRING}


@pytest.mark.parametrize("cam_system", ALL)
def test_longer_string_turns_both_cams_one_way_with_longer_draw_and_higher_peak(cam_system):
    geometry = bow_geometry(cam_system)
    moved = movement(geometry, {Position.STRING: STRETCH_M})
    assert moved.lower_cam_rad > 0 and (cam_system is CamSystem.SINGLE or moved.upper_cam_rad > 0)
    ways = expected_directions(geometry, {Position.STRING: STRETCH_M})
    assert ways[KIND.DRAW_LENGTH] is Direction.RISES
    assert ways[KIND.PEAK_WEIGHT] is Direction.RISES
    assert ways[KIND.BRACE_HEIGHT] is Direction.FALLS


@pytest.mark.parametrize("cam_system", ALL)
def test_longer_cables_turn_the_cams_the_other_way_with_shorter_draw_and_lower_peak(cam_system):
    geometry = bow_geometry(cam_system)
    moved = movement(geometry, cables(geometry))
    assert moved.lower_cam_rad < 0 and moved.upper_cam_rad <= 0
    ways = expected_directions(geometry, cables(geometry))
    assert ways[KIND.DRAW_LENGTH] is Direction.FALLS
    assert ways[KIND.PEAK_WEIGHT] is Direction.FALLS
    assert ways[KIND.BRACE_HEIGHT] is Direction.FALLS


@pytest.mark.parametrize("cam_system", ALL)
def test_cables_lengthen_axle_to_axle_clearly_and_the_string_slightly(cam_system):
    geometry = bow_geometry(cam_system)
    by_string = drift(geometry, {Position.STRING: STRETCH_M})[KIND.AXLE_TO_AXLE]
    by_cables = drift(geometry, cables(geometry))[KIND.AXLE_TO_AXLE]
    assert 0 < by_string < by_cables


@pytest.mark.parametrize("cam_system", [CamSystem.TWIN, CamSystem.BINARY])
def test_with_one_cable_longer_that_cam_leads_and_the_rest_is_to_be_checked(cam_system):
    geometry = bow_geometry(cam_system)
    moved = movement(geometry, {Position.UPPER_CABLE: STRETCH_M})
    assert moved.upper_cam_rad < moved.lower_cam_rad
    ways = expected_directions(geometry, {Position.UPPER_CABLE: STRETCH_M})
    assert ways[KIND.HOLDING_WEIGHT] is Direction.CHECK
    assert ways[KIND.TILLER] is Direction.CHECK


def test_cams_that_move_alike_leave_the_tiller():
    ways = expected_directions(bow_geometry(CamSystem.TWIN), {Position.STRING: STRETCH_M})
    assert ways[KIND.TILLER] is Direction.UNCHANGED
    assert ways[KIND.HOLDING_WEIGHT] is Direction.RISES


@pytest.mark.parametrize("bow_kind", [BowKind.RECURVE, BowKind.LONGBOW])
def test_string_bow_loses_brace_height_and_a_little_peak(bow_kind):
    ways = expected_directions(StringBowGeometry(bow_kind), {Position.STRING: STRETCH_M})
    assert ways[KIND.BRACE_HEIGHT] is Direction.FALLS
    assert ways[KIND.PEAK_WEIGHT] is Direction.FALLS
    assert ways[KIND.DRAW_LENGTH] is Direction.UNCHANGED
