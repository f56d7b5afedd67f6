"""The words that the timing package shares with the register: same strings, no import either way."""

from __future__ import annotations

from enum import StrEnum

from service.said import Said, mark, say


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
    Position.STRING: mark("string"),
    Position.BUSS_CABLE: mark("buss cable"),
    Position.CONTROL_CABLE: mark("control cable"),
    Position.UPPER_CABLE: mark("upper cable"),
    Position.LOWER_CABLE: mark("lower cable"),
    MeasurementKind.AXLE_TO_AXLE: mark("axle to axle"),
    MeasurementKind.BRACE_HEIGHT: mark("brace height"),
    MeasurementKind.DRAW_LENGTH: mark("draw length"),
    MeasurementKind.PEAK_WEIGHT: mark("peak weight"),
    MeasurementKind.HOLDING_WEIGHT: mark("holding weight"),
    MeasurementKind.LET_OFF: mark("let-off"),
    MeasurementKind.TILLER: mark("tiller"),
    MeasurementKind.NOCKING_HEIGHT: mark("nocking height"),
    MeasurementKind.CENTRE_SHOT: mark("centre shot"),
    MeasurementKind.PEEP_HEIGHT: mark("peep height"),
    MeasurementKind.LIMB_BOLT_TURNS: mark("limb-bolt turns out"),
    MeasurementKind.HOLE_DISTANCE_UPPER: mark("upper hole distance"),
    MeasurementKind.HOLE_DISTANCE_LOWER: mark("lower hole distance"),
    MeasurementKind.TIMING_MARK_UPPER: mark("upper timing mark"),
    MeasurementKind.TIMING_MARK_LOWER: mark("lower timing mark"),
    MeasurementKind.STOP_SYNC: mark("stop sync"),
}
"""Trade terms as a person reads them."""


def name_of(term: StrEnum) -> Said:
    """A trade term as a part of a sentence."""
    return say(LABELS[term])
