"""From the stretch of the cords to what a rule reads, at brace, and back.

At brace every cord runs straight, so the cords' lengths fix the geometry. A cord's length changes with a cam's
rotation by exactly the cord's brace arm at that cam (virtual work: dL/dtheta is the perpendicular distance from
the axle to the cord). The rows of the stretch matrix below say that for each cam system.

Unknowns: rotation of the upper and of the lower cam (rad, positive wraps more string) and the change of the
axle-to-axle distance (m). Small changes: an independent non-linear model in the tests bounds the error.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import NDArray

from service.timing.geometry import BowGeometry, Geometry, StringBowGeometry
from service.timing.vocabulary import CamSystem, MeasurementKind, Position

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Movement:
    """How the cams and axles moved. `upper_cam_rad` is 0 for a single cam's idler, which turns freely."""

    upper_cam_rad: float
    lower_cam_rad: float
    axle_to_axle_m: float


@dataclass(frozen=True, slots=True, eq=False)
class DriftMatrix:
    """Change of each measurement per length of stretch of each cord (m per m).

    `matrix` has shape (len(kinds), len(positions)). For many sets of cords of the same geometry at once:
    `changes = stretches @ drift.matrix.T`, stretches of shape (n, len(positions)).
    """

    kinds: tuple[MeasurementKind, ...]
    positions: tuple[Position, ...]
    matrix: FloatArray


def stretch_matrix(geometry: BowGeometry) -> FloatArray:
    """J in `stretch = J x`, x = (upper cam, lower cam, axle to axle), or (cam, axle to axle) for a single cam.

    Rows in the order of `geometry.positions`, entries m/rad and m/m.
    """
    lower = geometry.lower
    s_l, c_l, f_l = lower.string.value, lower.take_up.value, lower.let_out.value
    if geometry.upper is None:
        # The string's other end comes back over the idler to the let-out track: two spans, two wraps.
        return np.array([[s_l + f_l, 2.0], [-c_l, 1.0]])
    upper = geometry.upper
    s_u, c_u, f_u = upper.string.value, upper.take_up.value, upper.let_out.value
    string = [s_u, s_l, 1.0]
    cables = {
        CamSystem.TWIN: ([-c_u, 0.0, 1.0], [0.0, -c_l, 1.0]),
        CamSystem.HYBRID: ([0.0, -c_l, 1.0], [-c_u, f_l, 1.0]),
        CamSystem.BINARY: ([-c_u, f_l, 1.0], [f_u, -c_l, 1.0]),
    }[geometry.cam_system]
    return np.array([string, *cables])


def measurement_matrix(geometry: BowGeometry) -> tuple[tuple[MeasurementKind, ...], FloatArray]:
    """The kinds that the kinematics predict and H in `change = H x` (m per rad, m per m)."""
    kinds: list[MeasurementKind] = [MeasurementKind.AXLE_TO_AXLE]
    lower = geometry.lower
    q_l, r_l = lower.hole_travel.value, lower.mark_radius.value
    if geometry.upper is None:
        kinds += [MeasurementKind.HOLE_DISTANCE_LOWER, MeasurementKind.TIMING_MARK_LOWER]
        return tuple(kinds), np.array([[0.0, 1.0], [q_l, 0.0], [r_l, 0.0]])
    q_u, r_u = geometry.upper.hole_travel.value, geometry.upper.mark_radius.value
    kinds += [
        MeasurementKind.HOLE_DISTANCE_UPPER,
        MeasurementKind.HOLE_DISTANCE_LOWER,
        MeasurementKind.TIMING_MARK_UPPER,
        MeasurementKind.TIMING_MARK_LOWER,
    ]
    rows = [[0.0, 0.0, 1.0], [q_u, 0.0, 0.0], [0.0, q_l, 0.0], [r_u, 0.0, 0.0], [0.0, r_l, 0.0]]
    if geometry.stops is not None:
        # Drawing unwraps string, so the cam that has turned less far the string's way is ahead and its stop
        # touches first. Stop sync is signed: positive when the upper stop touches first.
        gap_per_rad = geometry.stops.radius.value * geometry.stops.full_draw_ratio.value
        kinds.append(MeasurementKind.STOP_SYNC)
        rows.append([-gap_per_rad, gap_per_rad, 0.0])
    return tuple(kinds), np.array(rows)


def drift_matrix(geometry: Geometry) -> DriftMatrix:
    """What each measurement does per length of stretch of each cord; see `DriftMatrix`."""
    if isinstance(geometry, StringBowGeometry):
        falls = np.array([[-geometry.brace_height_ratio.value]])
        return DriftMatrix((MeasurementKind.BRACE_HEIGHT,), geometry.positions, falls)
    kinds, per_movement = measurement_matrix(geometry)
    per_stretch = np.asarray(np.linalg.solve(stretch_matrix(geometry).T, per_movement.T).T, dtype=np.float64)
    return DriftMatrix(kinds, geometry.positions, per_stretch)


def kinds_on_assumed(geometry: Geometry) -> frozenset[MeasurementKind]:
    """The measurements whose prediction would change if an assumed value of the geometry were another."""
    response = drift_matrix(geometry)
    values = geometry.parameters()
    found: set[MeasurementKind] = set()
    for name in geometry.assumed_names():
        known = values[name]
        other = geometry.with_parameters({name: replace(known, value=known.value * (1.0 + 1e-3))})
        moved = np.any(np.abs(drift_matrix(other).matrix - response.matrix) > 1e-9, axis=1)
        found |= {kind for kind, moves in zip(response.kinds, moved, strict=True) if moves}
    return frozenset(found)


def drift(geometry: Geometry, stretch_by_position_m: Mapping[Position, float]) -> dict[MeasurementKind, float]:
    """Predicted change (m) of every measurement that the kinematics know; a cord left out has not stretched.

    Raises ValueError for a cord that this bow does not have.
    """
    response = drift_matrix(geometry)
    changes = response.matrix @ stretch_vector(geometry, stretch_by_position_m)
    return {kind: float(change) for kind, change in zip(response.kinds, changes, strict=True)}


def movement(geometry: BowGeometry, stretch_by_position_m: Mapping[Position, float]) -> Movement:
    """Forward: stretch of the cords (m) -> cam rotations (rad) and change of axle to axle (m)."""
    solved = np.linalg.solve(stretch_matrix(geometry), stretch_vector(geometry, stretch_by_position_m))
    upper = 0.0 if geometry.upper is None else float(solved[0])
    return Movement(upper, float(solved[-2]), float(solved[-1]))


def stretch_of(geometry: BowGeometry, moved: Movement) -> dict[Position, float]:
    """Backward: cam rotations and change of axle to axle -> stretch of each cord (m)."""
    x = [moved.lower_cam_rad, moved.axle_to_axle_m]
    if geometry.upper is not None:
        x.insert(0, moved.upper_cam_rad)
    stretches = stretch_matrix(geometry) @ np.array(x)
    return {position: float(value) for position, value in zip(geometry.positions, stretches, strict=True)}


def stretch_vector(geometry: Geometry, stretch_by_position_m: Mapping[Position, float]) -> FloatArray:
    """The stretches (m) in the order of the bow's positions, 0 for a cord left out. Raises ValueError."""
    foreign = [position for position in stretch_by_position_m if position not in geometry.positions]
    if foreign:
        bow = geometry.bow_kind if isinstance(geometry, StringBowGeometry) else f"{geometry.cam_system} cam bow"
        raise ValueError(
            f"a {bow} has no {', '.join(foreign)}; its cords are {', '.join(geometry.positions)}: "
            "correct the cord's position or the spec sheet's cam system"
        )
    return np.array([float(stretch_by_position_m.get(position, 0.0)) for position in geometry.positions])


def brace_height_ratio_of_arc(bow_length_m: float, brace_height_m: float) -> float:
    """Brace height lost per length of string stretch of a bow bent to one circular arc.

    Arc S of half angle h: chord L = S sin h / h, sagitta B = S (1 - cos h) / (2 h); the ratio is -dB/dL. A real
    bow has a stiff middle and recurved tips: this is the origin of the assumed default, no more.
    """
    if not 0.0 < brace_height_m < 0.3 * bow_length_m:
        raise ValueError(
            f"brace height of {brace_height_m * 1e3:.0f} mm is outside 0 to 0.3 of the bow's length of "
            f"{bow_length_m * 1e3:.0f} mm; measure from the grip's throat to the string"
        )

    def surplus(half_angle_rad: float) -> float:
        return (1.0 - math.cos(half_angle_rad)) / (2.0 * half_angle_rad) - brace_height_m / bow_length_m

    half = scipy.optimize.brentq(surplus, 1e-9, math.pi / 2)
    ratio: float = (half * math.sin(half) - 1.0 + math.cos(half)) / (2.0 * (math.sin(half) - half * math.cos(half)))
    return ratio
