"""Spec sheet -> the geometry of the timing model: measured arms where the sheet has them, else the assumed defaults."""

from fleet.models import SpecSheet
from fleet.vocabulary import BowKind
from service.timing.geometry import ArmName, Geometry, StopKind, StringBowGeometry, bow_geometry, draw_stops
from service.timing.vocabulary import BowKind as TimingBowKind
from service.timing.vocabulary import CamSystem

ARM_COLUMNS: dict[ArmName, str] = {
    ArmName.STRING: "string_arm",
    ArmName.TAKE_UP: "take_up_arm",
    ArmName.LET_OUT: "let_out_arm",
    ArmName.HOLE_TRAVEL: "hole_travel",
    ArmName.MARK_RADIUS: "mark_radius",
}


def geometry_of(sheet: SpecSheet) -> Geometry:
    """The geometry of a make of bow."""
    if sheet.bow_kind != BowKind.COMPOUND:
        return StringBowGeometry(TimingBowKind(sheet.bow_kind))
    system = CamSystem(sheet.cam_system)
    if system is CamSystem.SINGLE:
        return bow_geometry(system, None, _measured(sheet, "lower"))
    stops = draw_stops(StopKind(sheet.stop_kind or StopKind.LIMB))
    return bow_geometry(system, _measured(sheet, "upper"), _measured(sheet, "lower"), stops)


def _measured(sheet: SpecSheet, end: str) -> dict[ArmName, float]:
    arms = {name: getattr(sheet, f"{column}_{end}_m") for name, column in ARM_COLUMNS.items()}
    return {name: value for name, value in arms.items() if value is not None}
