"""Kinematics against an independent non-linear geometry, and its own round trip."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from service.timing.geometry import (
    DEFAULT_BRACE_HEIGHT_RATIO,
    ArmName,
    BowGeometry,
    CamArms,
    StopKind,
    StringBowGeometry,
    bow_geometry,
    draw_stops,
    measured,
)
from service.timing.kinematics import (
    brace_height_ratio_of_arc,
    drift,
    drift_matrix,
    movement,
    stretch_of,
)
from service.timing.vocabulary import BowKind, CamSystem, MeasurementKind, Position
from tests.timing import nonlinear_bow as nonlinear
from tests.timing.nonlinear_bow import ARCHER, POINT, RISER, Bow, Hole, eccentric

EIGHTH_IN_M = 0.0254 / 8
TRUE_MARK_RADIUS_M = 0.040
KIND = MeasurementKind


def eccentric_bow(cam_system, lean_rad=0.35, eccentricity=0.010):
    """A bow of about 31 1/2 in with eccentric tracks, every one near the default arms."""
    string = {end: eccentric(0.045, eccentricity, lean_rad, ARCHER, end) for end in ("upper", "lower")}
    take_up = {end: eccentric(0.030, eccentricity, lean_rad, RISER, end) for end in ("upper", "lower")}
    let_out = {end: eccentric(0.015, 0.003, lean_rad, ARCHER, end) for end in ("upper", "lower")}
    hole = {"upper": Hole(0.045, np.pi - 0.9), "lower": Hole(0.045, np.pi + 0.9)}
    both = (string["upper"], string["lower"])
    if cam_system is CamSystem.SINGLE:
        idler = nonlinear.Track(0.040)
        return Bow(
            0.8,
            (idler, string["lower"]),
            ((POINT, take_up["lower"]),),
            ((0, "lower", hole["lower"]),),
            string_return=let_out["lower"],
            idler_radius=0.040,
        )
    cables = {
        CamSystem.TWIN: ((take_up["upper"], POINT), (POINT, take_up["lower"])),
        CamSystem.HYBRID: ((POINT, take_up["lower"]), (take_up["upper"], let_out["lower"])),
        CamSystem.BINARY: ((take_up["upper"], let_out["lower"]), (let_out["upper"], take_up["lower"])),
    }[cam_system]
    hole_cables = (1, 0) if cam_system is CamSystem.HYBRID else (0, 1)
    holes = ((hole_cables[0], "upper", hole["upper"]), (hole_cables[1], "lower", hole["lower"]))
    return Bow(0.8, both, cables, holes)


def geometry_read_at_brace(cam_system, bow):
    """The linear geometry from what a rule would read on the non-linear bow at brace."""
    pairs = bow.arms_at_brace()
    unused = 0.010

    def cam(end, string_m, take_up_m, let_out_m, hole_number):
        travel_m = bow.hole_travel_at_brace(hole_number)
        values = (string_m, take_up_m, let_out_m, travel_m, TRUE_MARK_RADIUS_M)
        return CamArms(*(measured(value) for value in values))

    if cam_system is CamSystem.SINGLE:
        lower = cam("lower", pairs[0][1], pairs[1][1], bow.return_arm_at_brace(), 0)
        return BowGeometry(cam_system, None, lower)
    (s_u, s_l), first, second = pairs
    upper_arms, lower_arms = {
        CamSystem.TWIN: ((first[0], unused), (second[1], unused)),
        CamSystem.HYBRID: ((second[0], unused), (first[1], second[1])),
        CamSystem.BINARY: ((first[0], second[0]), (second[1], first[1])),
    }[cam_system]
    return BowGeometry(cam_system, cam("upper", s_u, *upper_arms, 0), cam("lower", s_l, *lower_arms, 1))


def nonlinear_changes(cam_system, bow, stretch):
    x = bow.solve(stretch)
    still = np.zeros(len(stretch))
    turned = {"upper": x[0], "lower": x[-2]}
    changes = {KIND.AXLE_TO_AXLE: x[-1]}
    ends = ("lower",) if cam_system is CamSystem.SINGLE else ("upper", "lower")
    for number, end in enumerate(ends):
        change = bow.hole_distance(number, x) - bow.hole_distance(number, still)
        changes[KIND(f"hole_distance_{end}")] = change
        changes[KIND(f"timing_mark_{end}")] = TRUE_MARK_RADIUS_M * turned[end]
    return changes


CASES = [(system, cord) for system in CamSystem for cord in range(2 if system is CamSystem.SINGLE else 3)]


@pytest.mark.parametrize("fraction", [0.25, 0.5, 1.0])
@pytest.mark.parametrize(("cam_system", "cord"), CASES)
def test_agrees_with_non_linear_geometry_within_one_percent_up_to_an_eighth_of_an_inch(cam_system, cord, fraction):
    bow = eccentric_bow(cam_system)
    geometry = geometry_read_at_brace(cam_system, bow)
    stretch = np.zeros(len(geometry.positions))
    stretch[cord] = fraction * EIGHTH_IN_M
    predicted = drift(geometry, {geometry.positions[cord]: stretch[cord]})
    for kind, true_change in nonlinear_changes(cam_system, bow, stretch).items():
        assert predicted[kind] == pytest.approx(true_change, rel=0.01), kind


@pytest.mark.parametrize("cam_system", list(CamSystem))
def test_all_cords_stretched_an_eighth_agree_with_non_linear_geometry(cam_system):
    bow = eccentric_bow(cam_system)
    geometry = geometry_read_at_brace(cam_system, bow)
    stretch = np.full(len(geometry.positions), EIGHTH_IN_M)
    predicted = drift(geometry, dict(zip(geometry.positions, stretch, strict=True)))
    changes = nonlinear_changes(cam_system, bow, stretch)
    largest_m = max(abs(change) for change in changes.values())
    for kind, true_change in changes.items():
        assert predicted[kind] == pytest.approx(true_change, rel=0.01, abs=0.01 * largest_m), kind


@pytest.mark.parametrize("lean_rad", [-0.9, -0.4, 0.0, 0.4, 0.9])
@pytest.mark.parametrize(("cam_system", "cord"), CASES)
def test_first_order_is_right_whatever_the_tracks(cam_system, cord, lean_rad):
    """Stretch so small that curvature is gone: what is left is what the model omits to first order (cables and
    the single cam's string return lean by c/ATA, the far end's share in a cable's turn). A wrong or missing arm
    would show as tens of percent."""
    bow = eccentric_bow(cam_system, lean_rad, eccentricity=0.012)
    geometry = geometry_read_at_brace(cam_system, bow)
    stretch = np.zeros(len(geometry.positions))
    stretch[cord] = 1e-3 * EIGHTH_IN_M
    predicted = drift(geometry, {geometry.positions[cord]: stretch[cord]})
    changes = nonlinear_changes(cam_system, bow, stretch)
    largest_m = max(abs(change) for change in changes.values())
    for kind, true_change in changes.items():
        assert predicted[kind] == pytest.approx(true_change, abs=0.01 * largest_m), kind


@pytest.mark.parametrize("eccentricity_m", [0.005, 0.012])
@pytest.mark.parametrize("lean_rad", [-0.7, 0.0, 0.7])
@pytest.mark.parametrize(("cam_system", "cord"), CASES)
def test_an_eighth_of_an_inch_stays_within_three_percent_whatever_the_tracks(
    cam_system, cord, lean_rad, eccentricity_m
):
    """The 1 % above is of tracks near their extreme at brace; curvature costs more where the arm is changing fast."""
    bow = eccentric_bow(cam_system, lean_rad, eccentricity_m)
    geometry = geometry_read_at_brace(cam_system, bow)
    stretch = np.zeros(len(geometry.positions))
    stretch[cord] = EIGHTH_IN_M
    predicted = drift(geometry, {geometry.positions[cord]: stretch[cord]})
    for kind, true_change in nonlinear_changes(cam_system, bow, stretch).items():
        assert predicted[kind] == pytest.approx(true_change, rel=0.03), kind


@pytest.mark.parametrize("number", [0, 1])
def test_hole_travel_from_lengths_read_at_brace_is_the_true_derivative(number):
    bow = eccentric_bow(CamSystem.HYBRID)
    step = np.zeros(3)
    step[number] = 1e-5
    slope = (bow.hole_distance(number, step) - bow.hole_distance(number, -step)) / 2e-5
    assert bow.hole_travel_at_brace(number) == pytest.approx(slope, rel=1e-6)


def arm_values(low_mm, high_mm):
    return st.floats(low_mm * 1e-3, high_mm * 1e-3)


@st.composite
def geometries(draw):
    cam_system = draw(st.sampled_from(list(CamSystem)))

    def cam():
        take_up = draw(arm_values(15, 60))
        return {
            ArmName.STRING: draw(arm_values(20, 80)),
            ArmName.TAKE_UP: take_up,
            ArmName.LET_OUT: draw(st.floats(0.1, 0.8)) * take_up,
            ArmName.HOLE_TRAVEL: draw(st.sampled_from([-1, 1])) * draw(arm_values(5, 60)),
            ArmName.MARK_RADIUS: draw(arm_values(20, 80)),
        }

    return bow_geometry(cam_system, None if cam_system is CamSystem.SINGLE else cam(), cam())


@given(geometries(), st.lists(st.floats(-0.01, 0.01), min_size=3, max_size=3))
def test_round_trip_forward_and_backward(geometry, stretches_m):
    stretch = dict(zip(geometry.positions, stretches_m, strict=False))
    back = stretch_of(geometry, movement(geometry, stretch))
    for position, value in stretch.items():
        assert back[position] == pytest.approx(value, abs=1e-9)


@given(geometries(), st.lists(st.floats(0.0, 0.01), min_size=3, max_size=3))
def test_axle_to_axle_never_shortens_from_stretch(geometry, stretches_m):
    stretch = dict(zip(geometry.positions, stretches_m, strict=False))
    assert drift(geometry, stretch)[KIND.AXLE_TO_AXLE] >= -1e-15


def test_matrix_serves_many_sets_of_cords_at_once():
    geometry = bow_geometry(CamSystem.BINARY, stops=draw_stops(StopKind.CABLE))
    response = drift_matrix(geometry)
    stretches = np.random.default_rng(7).normal(0.0, 2e-3, (50, 3))
    changes = stretches @ response.matrix.T
    for row in (0, 49):
        one = drift(geometry, dict(zip(response.positions, stretches[row], strict=True)))
        assert [one[kind] for kind in response.kinds] == pytest.approx(changes[row], abs=1e-15)


def test_twin_worked_by_hand():
    """s 45, c 30: string +1 mm -> t = 1/(2 s + c) = 1/120 rad/mm, a = c t = 1/4 mm; mark 40 t, hole 20 t."""
    changes = drift(bow_geometry(CamSystem.TWIN), {Position.STRING: 1e-3})
    assert changes[KIND.AXLE_TO_AXLE] == pytest.approx(0.25e-3)
    assert changes[KIND.TIMING_MARK_UPPER] == pytest.approx(1e-3 / 3)
    assert changes[KIND.HOLE_DISTANCE_LOWER] == pytest.approx(1e-3 / 6)


def test_stop_sync_is_positive_when_the_upper_cam_leads():
    geometry = bow_geometry(CamSystem.TWIN, stops=draw_stops(StopKind.LIMB))
    assert drift(geometry, {Position.UPPER_CABLE: 1e-3})[KIND.STOP_SYNC] > 0
    assert drift(geometry, {Position.LOWER_CABLE: 1e-3})[KIND.STOP_SYNC] < 0
    assert drift(geometry, {Position.STRING: 1e-3})[KIND.STOP_SYNC] == pytest.approx(0.0, abs=1e-15)
    assert KIND.STOP_SYNC not in drift(bow_geometry(CamSystem.SINGLE), {Position.STRING: 1e-3})


def test_recurve_brace_height_falls_with_string_stretch():
    recurve = StringBowGeometry(BowKind.RECURVE)
    assert drift(recurve, {Position.STRING: 2e-3}) == {KIND.BRACE_HEIGHT: pytest.approx(-2.8e-3)}
    assert recurve.assumed_names() == ("brace_height_ratio",)


def test_brace_height_ratio_against_an_exact_circular_arc():
    """Arc of 66 in bent until its sagitta is 8 1/4 in: chord and sagitta solved without the series."""
    arc_m = 66 * 0.0254

    def chord(sagitta_m):
        half = brentq(lambda angle: arc_m / (2 * angle) * (1 - np.cos(angle)) - sagitta_m, 1e-3, 2.0)
        return arc_m / half * np.sin(half)

    brace_m, step = 8.25 * 0.0254, 1e-5
    exact = 2 * step / (chord(brace_m - step) - chord(brace_m + step))
    assert brace_height_ratio_of_arc(arc_m, brace_m) == pytest.approx(exact, rel=1e-4)
    assert exact == pytest.approx(DEFAULT_BRACE_HEIGHT_RATIO, abs=0.05)


def test_foreign_cord_is_refused_by_name():
    with pytest.raises(ValueError, match=r"twin cam bow has no buss_cable.*upper_cable"):
        drift(bow_geometry(CamSystem.TWIN), {Position.BUSS_CABLE: 1e-3})
    with pytest.raises(ValueError, match="recurve has no upper_cable"):
        drift(StringBowGeometry(BowKind.RECURVE), {Position.UPPER_CABLE: 1e-3})
