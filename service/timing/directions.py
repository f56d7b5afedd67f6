"""Which way the measurements go that the kinematics do not predict.

Common practice, no source: longer string, longer draw and higher peak weight; longer cables, the reverse; any
stretch lets the limbs out and so lowers the brace height. The size is learned from closed orders, never
computed here.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from service.timing.geometry import Geometry, StringBowGeometry
from service.timing.kinematics import movement, stretch_vector
from service.timing.vocabulary import MeasurementKind, Position

ALIKE_RAD = 1e-9
"""Rotations closer than this are the same: rounding, not movement."""


class Direction(StrEnum):
    RISES = "rises"
    FALLS = "falls"
    UNCHANGED = "unchanged"
    CHECK = "check"


def expected_directions(
    geometry: Geometry, stretch_by_position_m: Mapping[Position, float]
) -> dict[MeasurementKind, Direction]:
    """The expected sign of what is not predicted. CHECK means that practice gives no rule: measure it."""
    if isinstance(geometry, StringBowGeometry):
        stretch = float(stretch_vector(geometry, stretch_by_position_m)[0])
        return {
            # The archer's draw is the archer's; at that draw a lower brace height has bent the limbs less.
            MeasurementKind.DRAW_LENGTH: Direction.UNCHANGED,
            MeasurementKind.PEAK_WEIGHT: _sign(-stretch),
            MeasurementKind.BRACE_HEIGHT: _sign(-stretch),
            MeasurementKind.TILLER: Direction.UNCHANGED,
        }
    moved = movement(geometry, stretch_by_position_m)
    both_rad = moved.upper_cam_rad + moved.lower_cam_rad
    apart_rad = 0.0 if geometry.upper is None else moved.upper_cam_rad - moved.lower_cam_rad
    alike = abs(apart_rad) < ALIKE_RAD
    return {
        MeasurementKind.DRAW_LENGTH: _sign(both_rad),
        MeasurementKind.PEAK_WEIGHT: _sign(both_rad),
        # With the stops out of step the valley changes shape, and practice gives no rule for what is held.
        MeasurementKind.HOLDING_WEIGHT: _sign(both_rad) if alike else Direction.CHECK,
        MeasurementKind.BRACE_HEIGHT: _sign(-moved.axle_to_axle_m),
        MeasurementKind.TILLER: Direction.UNCHANGED if alike else Direction.CHECK,
    }


def _sign(change: float) -> Direction:
    if abs(change) < ALIKE_RAD:
        return Direction.UNCHANGED
    return Direction.RISES if change > 0 else Direction.FALLS
