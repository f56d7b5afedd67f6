"""What a bow's cams look like at brace: the brace arms, each marked measured, assumed or learned.

A brace arm is the perpendicular distance from the axle to a cord's line at brace. It is all that a small cam
rotation needs to know of the track. Where nobody has measured it the default below stands in, and every
number that rests on it says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from service.timing.vocabulary import POSITIONS_BY_CAM_SYSTEM, BowKind, CamSystem, Position

MM = 1e-3
MEASURED_ARM_STANDARD_ERROR_M = 1.0 * MM
"""Assumed: a rule held against an axle is read to about 1 mm."""
ASSUMED_ARM_RELATIVE_ERROR = 0.20
"""Assumed: how far a bow's own arm may stand from the default, as a standard deviation."""
DEFAULT_CORD_DIAMETER_M = 2.5 * MM
"""Assumed."""
DEFAULT_BRACE_HEIGHT_RATIO = 1.4
"""Assumed: brace height lost per length of string stretch, of a 66 in bow bent to one circular arc with
8 1/4 in of brace height (see `kinematics.brace_height_ratio_of_arc`)."""
DEFAULT_FULL_DRAW_RATIO = 1.0
"""Assumed: how many times the cams' difference at brace is found again at full draw."""
ASSUMED_FULL_DRAW_RATIO_RELATIVE_ERROR = 0.50
ASSUMED_BRACE_HEIGHT_RATIO_RELATIVE_ERROR = 0.30


class Provenance(StrEnum):
    MEASURED = "measured"
    ASSUMED = "assumed"
    LEARNED = "learned"


class ArmName(StrEnum):
    """The arms of one cam. On a single cam the let-out track takes the string's other end."""

    STRING = "string"
    TAKE_UP = "take_up"
    LET_OUT = "let_out"
    HOLE_TRAVEL = "hole_travel"
    MARK_RADIUS = "mark_radius"


class StopKind(StrEnum):
    LIMB = "limb"
    CABLE = "cable"


@dataclass(frozen=True, slots=True)
class Known:
    """A value of the bow's geometry (m, or a plain ratio), its standard error, and how it is known."""

    value: float
    standard_error: float
    provenance: Provenance

    @property
    def is_assumed(self) -> bool:
        return self.provenance is Provenance.ASSUMED


DEFAULT_ARMS_M: dict[ArmName, float] = {
    ArmName.STRING: 45 * MM,
    ArmName.TAKE_UP: 30 * MM,
    ArmName.LET_OUT: 15 * MM,
    ArmName.HOLE_TRAVEL: 20 * MM,
    ArmName.MARK_RADIUS: 40 * MM,
}
"""Assumed, all of them."""

DEFAULT_STOP_RADIUS_M: dict[StopKind, float] = {StopKind.LIMB: 50 * MM, StopKind.CABLE: 30 * MM}
"""Assumed: from the axle to where the stop touches."""

ARM_RANGES_M: dict[ArmName, tuple[float, float]] = {
    ArmName.STRING: (5 * MM, 150 * MM),
    ArmName.TAKE_UP: (3 * MM, 100 * MM),
    ArmName.LET_OUT: (1 * MM, 100 * MM),
    ArmName.HOLE_TRAVEL: (2 * MM, 100 * MM),
    ArmName.MARK_RADIUS: (5 * MM, 150 * MM),
}
"""What can be read on a cam that fits a bow; hole travel by its size, its sign is free."""


def measured(value_m: float, standard_error_m: float = MEASURED_ARM_STANDARD_ERROR_M) -> Known:
    return Known(value_m, standard_error_m, Provenance.MEASURED)


def assumed(value: float, relative_error: float = ASSUMED_ARM_RELATIVE_ERROR) -> Known:
    return Known(value, abs(value) * relative_error, Provenance.ASSUMED)


@dataclass(frozen=True, slots=True)
class CamArms:
    """One cam at brace (m). `hole_travel` is signed: the change of the hole distance per radian of rotation
    that wraps more string, read to the cable that the record names."""

    string: Known
    take_up: Known
    let_out: Known
    hole_travel: Known
    mark_radius: Known

    def __post_init__(self) -> None:
        for name in ArmName:
            _check_arm(name, self.arm(name))

    def arm(self, name: ArmName) -> Known:
        known: Known = getattr(self, name.value)
        return known


def _check_arm(name: ArmName, arm: Known) -> None:
    low, high = ARM_RANGES_M[name]
    size = abs(arm.value) if name is ArmName.HOLE_TRAVEL else arm.value
    if not low <= size <= high:
        raise ValueError(
            f"{name.value.replace('_', ' ')} of {arm.value / MM:.1f} mm is outside {low / MM:.0f} to "
            f"{high / MM:.0f} mm; measure the perpendicular distance from the axle to the cord at brace again, "
            "or leave it empty to use the assumed value"
        )
    if not arm.standard_error >= 0.0:
        raise ValueError(
            f"{name.value.replace('_', ' ')} has a standard error of {arm.standard_error / MM:.2f} mm; "
            "it must be 0 mm or more: give the resolution of the rule it was read with"
        )


@dataclass(frozen=True, slots=True)
class DrawStops:
    """The draw stops: what they touch, how far from the axle (m), and how many times the cams' difference
    at brace is found again at full draw (for a twin cam, the take-up arm at brace over that at full draw)."""

    kind: StopKind
    radius: Known
    full_draw_ratio: Known

    def __post_init__(self) -> None:
        if not 5 * MM <= self.radius.value <= 150 * MM:
            raise ValueError(
                f"stop radius of {self.radius.value / MM:.1f} mm is outside 5 to 150 mm; measure from the axle "
                "to where the stop touches, or leave it empty to use the assumed value"
            )
        if not 0.1 <= self.full_draw_ratio.value <= 10.0:
            raise ValueError(
                f"full-draw ratio of {self.full_draw_ratio.value:.2f} is outside 0.1 to 10; leave it empty "
                "until closed orders have taught it"
            )


def draw_stops(kind: StopKind, radius_m: float | None = None, ratio: Known | None = None) -> DrawStops:
    """Stops with the assumed radius and ratio unless given."""
    radius = assumed(DEFAULT_STOP_RADIUS_M[kind]) if radius_m is None else measured(radius_m)
    return DrawStops(kind, radius, ratio or assumed(DEFAULT_FULL_DRAW_RATIO, ASSUMED_FULL_DRAW_RATIO_RELATIVE_ERROR))


@dataclass(frozen=True, slots=True)
class BowGeometry:
    """A compound bow's cams. A single cam sits at the lower axle; its idler (`upper` is None) has no arms."""

    cam_system: CamSystem
    upper: CamArms | None
    lower: CamArms
    stops: DrawStops | None = None

    def __post_init__(self) -> None:
        single = self.cam_system is CamSystem.SINGLE
        if single and self.upper is not None:
            raise ValueError("a single cam has an idler at the upper axle; give arms of the lower cam only")
        if not single and self.upper is None:
            raise ValueError(f"a {self.cam_system} cam bow has two cams; give the upper cam's arms too")
        if single and self.stops is not None:
            raise ValueError("a single cam has one draw stop and no stop sync; leave the stops empty")
        if self.cam_system is CamSystem.BINARY:
            for end, cam in self.cams().items():
                if cam.let_out.value >= cam.take_up.value:
                    raise ValueError(
                        f"{end} let-out arm of {cam.let_out.value / MM:.1f} mm must be shorter than the take-up "
                        f"arm of {cam.take_up.value / MM:.1f} mm on a binary cam; measure both again at brace"
                    )

    @property
    def positions(self) -> tuple[Position, ...]:
        """The cords, in the order of the stretch matrix's rows."""
        return POSITIONS_BY_CAM_SYSTEM[self.cam_system]

    def cams(self) -> dict[str, CamArms]:
        return {"lower": self.lower} if self.upper is None else {"upper": self.upper, "lower": self.lower}

    def parameters(self) -> dict[str, Known]:
        """Every value that the kinematics use, by name (`upper.take_up`, `stops.full_draw_ratio`)."""
        used = {
            f"{end}.{name}": cam.arm(name)
            for end, cam in self.cams().items()
            for name in ArmName
            if _is_used(self.cam_system, end, name)
        }
        if self.stops is not None:
            used["stops.radius"] = self.stops.radius
            used["stops.full_draw_ratio"] = self.stops.full_draw_ratio
        return used

    def with_parameters(self, values: Mapping[str, Known]) -> BowGeometry:
        """The same bow with the named values replaced."""
        unknown = set(values) - set(self.parameters())
        if unknown:
            raise ValueError(
                f"{sorted(unknown)} are not arms of a {self.cam_system} cam bow; known are {sorted(self.parameters())}"
            )
        upper, stops = self.upper, self.stops
        return replace(
            self,
            upper=upper and _replaced_cam(upper, _of_part("upper", values)),
            lower=_replaced_cam(self.lower, _of_part("lower", values)),
            stops=stops and _replaced_stops(stops, _of_part("stops", values)),
        )

    def assumed_names(self) -> tuple[str, ...]:
        """The values that nobody has measured and no order has taught."""
        return tuple(name for name, known in self.parameters().items() if known.is_assumed)


def _of_part(part: str, values: Mapping[str, Known]) -> dict[str, Known]:
    return {name.split(".")[1]: known for name, known in values.items() if name.split(".")[0] == part}


def _replaced_cam(cam: CamArms, values: Mapping[str, Known]) -> CamArms:
    return CamArms(**{name.value: values.get(name.value, cam.arm(name)) for name in ArmName})


def _replaced_stops(stops: DrawStops, values: Mapping[str, Known]) -> DrawStops:
    ratio = values.get("full_draw_ratio", stops.full_draw_ratio)
    return DrawStops(stops.kind, values.get("radius", stops.radius), ratio)


def _is_used(cam_system: CamSystem, end: str, name: ArmName) -> bool:
    if name is not ArmName.LET_OUT:
        return True
    if cam_system is CamSystem.HYBRID:
        return end == "lower"
    return cam_system in (CamSystem.BINARY, CamSystem.SINGLE)


def cam_arms(measured_m: Mapping[ArmName, float] | None = None, *, let_out_shorter: bool = False) -> CamArms:
    """A cam with the arms that were measured (m); the defaults stand in for the rest, marked assumed.

    `let_out_shorter` (a binary cam): a default that contradicts the measured one of the two keeps their usual ratio.
    """
    given = measured_m or {}
    defaults = dict(DEFAULT_ARMS_M)
    if let_out_shorter:
        defaults |= _beside(given)
    values = {name: measured(given[name]) if name in given else assumed(defaults[name]) for name in ArmName}
    return CamArms(
        string=values[ArmName.STRING],
        take_up=values[ArmName.TAKE_UP],
        let_out=values[ArmName.LET_OUT],
        hole_travel=values[ArmName.HOLE_TRAVEL],
        mark_radius=values[ArmName.MARK_RADIUS],
    )


def _beside(given: Mapping[ArmName, float]) -> dict[ArmName, float]:
    """The default take-up or let-out arm (m) beside a measured one of the other, where the usual one cannot be."""
    take_up, let_out = given.get(ArmName.TAKE_UP), given.get(ArmName.LET_OUT)
    ratio = DEFAULT_ARMS_M[ArmName.LET_OUT] / DEFAULT_ARMS_M[ArmName.TAKE_UP]
    if let_out is None and take_up is not None and take_up <= DEFAULT_ARMS_M[ArmName.LET_OUT]:
        return {ArmName.LET_OUT: take_up * ratio}
    if take_up is None and let_out is not None and let_out >= DEFAULT_ARMS_M[ArmName.TAKE_UP]:
        return {ArmName.TAKE_UP: min(let_out / ratio, ARM_RANGES_M[ArmName.TAKE_UP][1])}
    return {}


def bow_geometry(
    cam_system: CamSystem,
    upper_measured_m: Mapping[ArmName, float] | None = None,
    lower_measured_m: Mapping[ArmName, float] | None = None,
    stops: DrawStops | None = None,
) -> BowGeometry:
    """A compound bow's geometry from what was measured (m), defaults for the rest. Raises ValueError."""
    single = cam_system is CamSystem.SINGLE
    if single and upper_measured_m:
        raise ValueError("a single cam has an idler at the upper axle; give arms of the lower cam only")
    binary = cam_system is CamSystem.BINARY
    upper = None if single else cam_arms(upper_measured_m, let_out_shorter=binary)
    return BowGeometry(cam_system, upper, cam_arms(lower_measured_m, let_out_shorter=binary), stops)


ASSUMED_BRACE_HEIGHT_RATIO = assumed(DEFAULT_BRACE_HEIGHT_RATIO, ASSUMED_BRACE_HEIGHT_RATIO_RELATIVE_ERROR)


@dataclass(frozen=True, slots=True)
class StringBowGeometry:
    """A recurve or longbow: no cams, one ratio, brace height lost per length of string stretch (m/m)."""

    bow_kind: BowKind
    brace_height_ratio: Known = ASSUMED_BRACE_HEIGHT_RATIO

    def __post_init__(self) -> None:
        if self.bow_kind is BowKind.COMPOUND:
            raise ValueError("a compound bow has cams; give its BowGeometry with the cam system")
        if not 0.2 <= self.brace_height_ratio.value <= 6.0:
            raise ValueError(
                f"brace-height ratio of {self.brace_height_ratio.value:.2f} is outside 0.2 to 6 (m per m); "
                "leave it empty until closed orders have taught it"
            )

    @property
    def positions(self) -> tuple[Position, ...]:
        return (Position.STRING,)

    def parameters(self) -> dict[str, Known]:
        return {"brace_height_ratio": self.brace_height_ratio}

    def with_parameters(self, values: Mapping[str, Known]) -> StringBowGeometry:
        if set(values) - {"brace_height_ratio"}:
            raise ValueError(f"{sorted(values)}: a {self.bow_kind} has only brace_height_ratio to set")
        return replace(self, brace_height_ratio=values.get("brace_height_ratio", self.brace_height_ratio))

    def assumed_names(self) -> tuple[str, ...]:
        return tuple(name for name, known in self.parameters().items() if known.is_assumed)


Geometry = BowGeometry | StringBowGeometry
