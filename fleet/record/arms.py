"""The verb on the arms measured on a bow."""

from datetime import datetime

from django.utils.translation import gettext as _

from fleet.models import Bow, BowArm, MeasuringTool, Person
from fleet.ranges import HOLE_TRAVEL, LET_OUT_ARM, MARK_RADIUS, STRING_ARM, TAKE_UP_ARM, Range
from fleet.record.kernel import add, audit, not_in_future, touch, verb
from fleet.refusal import Refused
from fleet.vocabulary import Arm, BowKind, CamEnd, CamSystem

ARM_RANGES: dict[str, Range] = {
    Arm.STRING: STRING_ARM,
    Arm.TAKE_UP: TAKE_UP_ARM,
    Arm.LET_OUT: LET_OUT_ARM,
    Arm.HOLE_TRAVEL: HOLE_TRAVEL,
    Arm.MARK_RADIUS: MARK_RADIUS,
}
# A hole travel nearer to nothing than this says nothing of the cam (m per rad).
LEAST_HOLE_TRAVEL = 0.002


def arms_of_system(cam_system: str) -> list[tuple[str, str]]:
    """Every (end, arm) that the kinematics of a cam system use; none for a bow without cams."""
    if not cam_system:
        return []
    ends = (CamEnd.LOWER,) if cam_system == CamSystem.SINGLE else (CamEnd.UPPER, CamEnd.LOWER)
    return [(end, arm) for end in ends for arm in Arm if arm != Arm.LET_OUT or _lets_out(cam_system, end)]


def _lets_out(cam_system: str, end: str) -> bool:
    """Whether a cam lets out another cord than its own cable: a hybrid's lower cam, both of a binary, a single."""
    return cam_system in (CamSystem.SINGLE, CamSystem.BINARY) or (
        cam_system == CamSystem.HYBRID and end == CamEnd.LOWER
    )


@verb
def measure_arm(
    *,
    by: Person,
    bow: Bow,
    end: str,
    arm: str,
    value_m: float | None,
    at: datetime,
    now: datetime,
    tool: MeasuringTool | None = None,
) -> BowArm | None:
    """Record an arm as measured on this bow (m; hole travel m per rad); the earlier measurement stays on record.

    None takes a wrong measurement back: the spec sheet's arm, or the assumed one, counts again.
    """
    not_in_future(f"{bow.tag}: arm measured", at, now)
    _check(bow, end, arm, value_m)
    current = BowArm.objects.filter(bow=bow, end=end, arm=arm, superseded_at=None).first()
    if current is None and value_m is None:
        return None
    if current is not None and current.value_m == value_m and current.tool == tool:
        return current
    before = current.value_m if current else None
    if current is not None:
        current.superseded_at = now
        current.save(update_fields=["superseded_at"])
    row = None
    if value_m is not None:
        row = add(BowArm(bow=bow, end=end, arm=arm, value_m=value_m, measured_at=at, measured_by=by, tool=tool))
    changed = {"value_m": [before, value_m]}
    audit(by, "measure_arm", row or current, bow=bow, end=end, arm=arm, tool=tool and tool.code, changed=changed)
    touch([bow.pk])
    return row


def _check(bow: Bow, end: str, arm: str, value_m: float | None) -> None:
    sheet = bow.spec_sheet
    if sheet.bow_kind != BowKind.COMPOUND:
        raise Refused(
            _("%(tag)s is a %(bow_kind)s: it has no cams and no arms to measure.")
            % {"tag": bow.tag, "bow_kind": sheet.bow_kind}
        )
    known = arms_of_system(sheet.cam_system)
    if (end, arm) not in known:
        there = ", ".join(f"{one} {name.replace('_', ' ')}" for one, name in known)
        raise Refused(
            _("%(tag)s: %(end)s %(arm)s is no arm of a %(cam_system)s cam bow: its arms are %(there)s.")
            % {"tag": bow.tag, "end": end, "arm": arm, "cam_system": sheet.cam_system, "there": there}
        )
    if value_m is None:
        return
    ARM_RANGES[arm].check(value_m, "measure from the axle to the cord at brace again.")
    if arm == Arm.HOLE_TRAVEL and abs(value_m) < LEAST_HOLE_TRAVEL:
        raise Refused(
            _(
                "hole travel %(value_m)s m per rad is smaller than %(LEAST_HOLE_TRAVEL)s m per rad: "
                "measure from the cable's contact with the cam to the hole's foot again."
            )
            % {"value_m": f"{value_m:g}", "LEAST_HOLE_TRAVEL": f"{LEAST_HOLE_TRAVEL:g}"}
        )
    if sheet.cam_system == CamSystem.BINARY and arm in (Arm.TAKE_UP, Arm.LET_OUT):
        _check_binary(bow, end, arm, value_m)


def _check_binary(bow: Bow, end: str, arm: str, value_m: float) -> None:
    """On a binary cam the let-out arm is the shorter one; held against whatever counts for the other now."""
    other = Arm.LET_OUT if arm == Arm.TAKE_UP else Arm.TAKE_UP
    measured = BowArm.objects.filter(bow=bow, end=end, arm=other, superseded_at=None).first()
    against = measured.value_m if measured else getattr(bow.spec_sheet, f"{other}_arm_{end}_m")
    if against is None:
        # Whatever the other turns out to be, there must be room for it.
        against = TAKE_UP_ARM.high if arm == Arm.LET_OUT else LET_OUT_ARM.low
    take_up, let_out = (value_m, against) if arm == Arm.TAKE_UP else (against, value_m)
    if let_out >= take_up:
        raise Refused(
            _(
                "%(tag)s: the %(end)s let-out arm %(let_out)s m must be shorter than the take-up arm "
                "%(take_up)s m on a binary cam: measure both again at brace, and enter the take-up arm "
                "first."
            )
            % {"tag": bow.tag, "end": end, "let_out": f"{let_out:g}", "take_up": f"{take_up:g}"}
        )
