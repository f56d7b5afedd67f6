"""The words that the timing package shares with the register: same strings, no import either way."""

from __future__ import annotations

from enum import StrEnum


class BowKind(StrEnum):
    COMPOUND = "compound"
    RECURVE = "recurve"
    LONGBOW = "longbow"


class CamSystem(StrEnum):
    SINGLE = "single"
    HYBRID = "hybrid"
    TWIN = "twin"
    BINARY = "binary"


class Position(StrEnum):
    """Where a cord is fitted."""

    STRING = "string"
    BUSS_CABLE = "buss_cable"
    CONTROL_CABLE = "control_cable"
    UPPER_CABLE = "upper_cable"
    LOWER_CABLE = "lower_cable"


class MeasurementKind(StrEnum):
    AXLE_TO_AXLE = "axle_to_axle"
    BRACE_HEIGHT = "brace_height"
    DRAW_LENGTH = "draw_length"
    PEAK_WEIGHT = "peak_weight"
    HOLDING_WEIGHT = "holding_weight"
    LET_OFF = "let_off"
    TILLER = "tiller"
    NOCKING_HEIGHT = "nocking_height"
    CENTRE_SHOT = "centre_shot"
    PEEP_HEIGHT = "peep_height"
    LIMB_BOLT_TURNS = "limb_bolt_turns"
    HOLE_DISTANCE_UPPER = "hole_distance_upper"
    HOLE_DISTANCE_LOWER = "hole_distance_lower"
    TIMING_MARK_UPPER = "timing_mark_upper"
    TIMING_MARK_LOWER = "timing_mark_lower"
    STOP_SYNC = "stop_sync"


POSITIONS_BY_CAM_SYSTEM: dict[CamSystem, tuple[Position, ...]] = {
    CamSystem.TWIN: (Position.STRING, Position.UPPER_CABLE, Position.LOWER_CABLE),
    CamSystem.HYBRID: (Position.STRING, Position.BUSS_CABLE, Position.CONTROL_CABLE),
    CamSystem.BINARY: (Position.STRING, Position.UPPER_CABLE, Position.LOWER_CABLE),
    CamSystem.SINGLE: (Position.STRING, Position.BUSS_CABLE),
}

LABELS: dict[StrEnum, str] = {
    Position.STRING: "string",
    Position.BUSS_CABLE: "buss cable",
    Position.CONTROL_CABLE: "control cable",
    Position.UPPER_CABLE: "upper cable",
    Position.LOWER_CABLE: "lower cable",
    MeasurementKind.AXLE_TO_AXLE: "axle to axle",
    MeasurementKind.BRACE_HEIGHT: "brace height",
    MeasurementKind.DRAW_LENGTH: "draw length",
    MeasurementKind.PEAK_WEIGHT: "peak weight",
    MeasurementKind.HOLDING_WEIGHT: "holding weight",
    MeasurementKind.LET_OFF: "let-off",
    MeasurementKind.TILLER: "tiller",
    MeasurementKind.NOCKING_HEIGHT: "nocking height",
    MeasurementKind.CENTRE_SHOT: "centre shot",
    MeasurementKind.PEEP_HEIGHT: "peep height",
    MeasurementKind.LIMB_BOLT_TURNS: "limb-bolt turns out",
    MeasurementKind.HOLE_DISTANCE_UPPER: "upper hole distance",
    MeasurementKind.HOLE_DISTANCE_LOWER: "lower hole distance",
    MeasurementKind.TIMING_MARK_UPPER: "upper timing mark",
    MeasurementKind.TIMING_MARK_LOWER: "lower timing mark",
    MeasurementKind.STOP_SYNC: "stop sync",
}
"""Trade terms as a person reads them."""
