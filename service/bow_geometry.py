"""A bow's geometry for the timing model: its own measured arms, else its spec sheet's, else the assumed defaults."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fleet.models import Bow, BowArm, SpecSheet
from fleet.record.arms import arms_of_system
from fleet.vocabulary import BowKind
from service.timing.geometry import (
    DEFAULT_ARMS_M,
    ArmName,
    Geometry,
    StopKind,
    StringBowGeometry,
    bow_geometry,
    draw_stops,
)
from service.timing.vocabulary import BowKind as TimingBowKind
from service.timing.vocabulary import CamSystem

ARM_COLUMNS: dict[ArmName, str] = {
    ArmName.STRING: "string_arm",
    ArmName.TAKE_UP: "take_up_arm",
    ArmName.LET_OUT: "let_out_arm",
    ArmName.HOLE_TRAVEL: "hole_travel",
    ArmName.MARK_RADIUS: "mark_radius",
}
OwnArms = Mapping[tuple[str, str], float]


@dataclass(frozen=True)
class ArmInUse:
    """The value (m) that counts for one arm of a bow now, and whence: `own` names its measurement, None is not the
    bow's; then `assumed` tells the timing model's default from the spec sheet's."""

    end: str
    arm: str
    value_m: float
    own: BowArm | None
    assumed: bool


def geometry_of(sheet: SpecSheet, own: OwnArms | None = None) -> Geometry:
    """The geometry of a make of bow, with what was measured on one bow of it (by end and arm, m) in its place."""
    if sheet.bow_kind != BowKind.COMPOUND:
        return StringBowGeometry(TimingBowKind(sheet.bow_kind))
    system = CamSystem(sheet.cam_system)
    lower = _measured(sheet, "lower", own or {})
    if system is CamSystem.SINGLE:
        return bow_geometry(system, None, lower)
    stops = draw_stops(StopKind(sheet.stop_kind or StopKind.LIMB))
    return bow_geometry(system, _measured(sheet, "upper", own or {}), lower, stops)


def geometry_of_bow(bow: Bow) -> Geometry:
    """The geometry of one bow."""
    return geometry_of(bow.spec_sheet, own_arms([bow.pk]).get(bow.pk))


def own_arms(bow_ids: Iterable[int] | None) -> dict[int, OwnArms]:
    """What was measured on these bows (None: on any), by bow, then by end and arm (m); only bows with something."""
    rows = BowArm.objects.filter(superseded_at=None)
    if bow_ids is not None:
        rows = rows.filter(bow__in=bow_ids)
    found: dict[int, dict[tuple[str, str], float]] = defaultdict(dict)
    for bow, end, arm, value_m in rows.values_list("bow_id", "end", "arm", "value_m"):
        found[bow][end, arm] = value_m
    return dict(found)


def arms_in_use(bow: Bow) -> list[ArmInUse]:
    """Every arm that the bow's kinematics use, in the order of measuring; empty for a bow without cams."""
    current = bow.arms.filter(superseded_at=None).select_related("measured_by", "tool")
    own = {(one.end, one.arm): one for one in current}
    found = []
    for end, arm in arms_of_system(bow.spec_sheet.cam_system):
        mine = own.get((end, arm))
        of_sheet = getattr(bow.spec_sheet, f"{ARM_COLUMNS[ArmName(arm)]}_{end}_m")
        value_m = mine.value_m if mine else DEFAULT_ARMS_M[ArmName(arm)] if of_sheet is None else of_sheet
        found.append(ArmInUse(end, arm, value_m, mine, mine is None and of_sheet is None))
    return found


def _measured(sheet: SpecSheet, end: str, own: OwnArms) -> dict[ArmName, float]:
    arms = {name: own.get((end, name.value), getattr(sheet, f"{at}_{end}_m")) for name, at in ARM_COLUMNS.items()}
    return {name: value for name, value in arms.items() if value is not None}
