"""Verbs on spec sheets and cord specs."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from fleet.models import (
    CordSpec,
    FactoryReference,
    Fitting,
    Person,
    SpecSheet,
    SpecSheetCord,
)
from fleet.ranges import (
    CORD_DIAMETER,
    CORD_LENGTH,
    DRAW_LENGTH,
    HOLE_TRAVEL,
    LEAD_DAYS,
    LET_OUT_ARM,
    LIFE,
    MARK_RADIUS,
    MEASUREMENTS,
    PEAK_WEIGHT,
    PRICE,
    RATED_MONTHS,
    RATED_SHOTS,
    STOCK_COUNT,
    STRANDS,
    STRING_ARM,
    TAKE_UP_ARM,
    TWISTS_PER_M,
    Range,
)
from fleet.record.kernel import audit, put, touch, verb
from fleet.refusal import Refused
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, BowKind, CamSystem, Fibre, Position
from service.said import figure, say
from service.wording import worded

CORD_SPEC_RANGES: dict[str, Range] = {
    "length_m": CORD_LENGTH,
    "strands": STRANDS,
    "rated_shots": RATED_SHOTS,
    "rated_months": RATED_MONTHS,
    "price": PRICE,
    "lead_days": LEAD_DAYS,
    "reorder_point": STOCK_COUNT,
    "diameter_m": CORD_DIAMETER,
    "twists_per_m_min": TWISTS_PER_M,
    "twists_per_m_max": TWISTS_PER_M,
    "rated_peak_weight_n": PEAK_WEIGHT,
    "hard_limit_life": LIFE,
}
SPEC_SHEET_RANGES: dict[str, Range] = {
    "draw_length_min_m": DRAW_LENGTH,
    "draw_length_max_m": DRAW_LENGTH,
    "peak_weight_min_n": PEAK_WEIGHT,
    "peak_weight_max_n": PEAK_WEIGHT,
    "string_arm_upper_m": STRING_ARM,
    "string_arm_lower_m": STRING_ARM,
    "take_up_arm_upper_m": TAKE_UP_ARM,
    "take_up_arm_lower_m": TAKE_UP_ARM,
    "let_out_arm_upper_m": LET_OUT_ARM,
    "let_out_arm_lower_m": LET_OUT_ARM,
    "hole_travel_upper_m": HOLE_TRAVEL,
    "hole_travel_lower_m": HOLE_TRAVEL,
    "mark_radius_upper_m": MARK_RADIUS,
    "mark_radius_lower_m": MARK_RADIUS,
}


@dataclass(frozen=True)
class ReferenceValue:
    """A value (SI by its kind) with its symmetric tolerance, as a spec sheet or a reference set gives it."""

    kind: str
    value: float
    tolerance: float
    position: str = ""
    tool_code: str = ""

    def checked(self) -> "ReferenceValue":
        """Itself, or a refusal that names what is outside its range."""
        if self.kind not in MEASUREMENTS:
            raise Refused(
                _("measurement '%(kind)s' is not one of %(values)s.")
                % {"kind": self.kind, "values": ", ".join(MEASUREMENTS)}
            )
        allowed = MEASUREMENTS[self.kind]
        allowed.check(self.value)
        if not 0 <= self.tolerance <= allowed.high - allowed.low:
            raise Refused(
                worded(
                    say(
                        "%(name)s: tolerance %(tolerance)s %(unit)s is outside 0 to %(high)s %(unit)s: "
                        "give the half-width of the allowed band.",
                        name=say(allowed.name),
                        tolerance=figure(self.tolerance),
                        unit=say(allowed.unit),
                        high=figure(allowed.high - allowed.low),
                    )
                )
            )
        return self


def _check_ranges(ranges: Mapping[str, Range], values: Mapping[str, Any]) -> None:
    for field, allowed in ranges.items():
        if values.get(field) is not None:
            allowed.check(float(values[field]))


@verb
def put_cord_spec(*, by: Person, code: str, **values: Any) -> CordSpec:
    """Add a cord spec, or change the one with this code (SI values; `rated_months` in months)."""
    _check_ranges(CORD_SPEC_RANGES, values)
    for field, words in (("position", Position), ("fibre", Fibre)):
        if field in values and values[field] not in words.values:
            raise Refused(
                _("%(field)s '%(value)s' is not one of %(allowed)s.")
                % {"field": field, "value": values[field], "allowed": ", ".join(words.values)}
            )
    spec = CordSpec.objects.filter(code=code).first() or CordSpec(code=code)
    low, high = (values.get(f"twists_per_m_{end}", getattr(spec, f"twists_per_m_{end}")) for end in ("min", "max"))
    if low is not None and high is not None and low > high:
        raise Refused(
            worded(
                say(
                    "twists per m run from %(low)s to %(high)s: the smaller number comes first.",
                    low=figure(low),
                    high=figure(high),
                )
            )
        )
    changed = put(spec, values)
    if changed:
        audit(by, "put_cord_spec", spec, code=code, changed=changed)
        touch(Fitting.objects.filter(cord__spec=spec).values_list("bow_id", flat=True))
    return spec


@verb
def put_spec_sheet(
    *,
    by: Person,
    code: str,
    cords: Mapping[str, CordSpec] | None = None,
    references: list[ReferenceValue] | None = None,
    references_gone: Iterable[tuple[str, str]] = (),
    **values: Any,
) -> SpecSheet:
    """Add a spec sheet, or change the one with this code; `cords` maps a position to the cord spec it takes.

    `references_gone` are the maker's values (kind, position) that are struck off the sheet.
    """
    _check_ranges(SPEC_SHEET_RANGES, values)
    sheet = SpecSheet.objects.filter(code=code).first() or SpecSheet(code=code)
    kind = values.get("bow_kind", sheet.bow_kind)
    system = values.get("cam_system", sheet.cam_system)
    _check_kind(code, kind, system)
    for low, high in (("draw_length_min_m", "draw_length_max_m"), ("peak_weight_min_n", "peak_weight_max_n")):
        least, most = (values.get(field, getattr(sheet, field)) for field in (low, high))
        if least is not None and most is not None and least > most:
            raise Refused(
                _("%(code)s: %(low)s %(least)s is above %(high)s %(most)s: swap them.")
                % {"code": code, "low": low, "least": f"{least:g}", "high": high, "most": f"{most:g}"}
            )
    _check_binary_arms(sheet, system, values)
    changed = put(sheet, values)
    if cords is not None:
        changed |= _put_sheet_cords(sheet, cords)
    if references is not None:
        changed |= _put_factory_references(sheet, references)
    changed |= _strike_factory_references(sheet, references_gone)
    if changed:
        audit(by, "put_spec_sheet", sheet, code=code, changed=changed)
        touch(sheet.bows.values_list("pk", flat=True))
    return sheet


def _check_kind(code: str, kind: str, system: str) -> None:
    if kind not in BowKind.values:
        raise Refused(
            _("%(code)s: bow kind '%(kind)s' is not one of %(values)s.")
            % {"code": code, "kind": kind, "values": ", ".join(BowKind.values)}
        )
    if kind == BowKind.COMPOUND and system not in CamSystem.values:
        raise Refused(
            _("%(code)s: a compound needs its cam system, one of %(values)s.")
            % {"code": code, "values": ", ".join(CamSystem.values)}
        )
    if kind != BowKind.COMPOUND and system:
        raise Refused(
            _("%(code)s: a %(kind)s has no cams: leave the cam system empty.")
            % {"code": code, "kind": BowKind(kind).label}
        )


def _check_binary_arms(sheet: SpecSheet, system: str, values: Mapping[str, Any]) -> None:
    if system != CamSystem.BINARY:
        return
    for end in ("upper", "lower"):
        take_up, let_out = (
            values.get(field, getattr(sheet, field)) for field in (f"take_up_arm_{end}_m", f"let_out_arm_{end}_m")
        )
        if take_up is not None and let_out is not None and let_out >= take_up:
            raise Refused(
                _(
                    "%(code)s: the %(end)s let-out arm %(let_out)s m must be shorter than the take-up arm %(take_up)s "
                    "m on a binary cam: measure both again at brace."
                )
                % {"code": sheet.code, "end": _(end), "let_out": f"{let_out:g}", "take_up": f"{take_up:g}"}
            )


def _put_sheet_cords(sheet: SpecSheet, cords: Mapping[str, CordSpec]) -> dict[str, list[Any]]:
    allowed = POSITIONS_BY_CAM_SYSTEM[sheet.cam_system]
    changed: dict[str, list[Any]] = {}
    for position, spec in cords.items():
        if position not in allowed:
            raise Refused(
                _("%(code)s: a %(cam_system)s has no %(position)s: its positions are %(allowed)s.")
                % {
                    "code": sheet.code,
                    "cam_system": sheet.cam_system or sheet.bow_kind,
                    "position": position,
                    "allowed": ", ".join(allowed),
                }
            )
        if spec.position != position:
            raise Refused(
                _("%(code)s: cord spec %(spec_code)s is a %(position)s, not a %(wanted_position)s.")
                % {"code": sheet.code, "spec_code": spec.code, "position": spec.position, "wanted_position": position}
            )
        row = SpecSheetCord.objects.filter(spec_sheet=sheet, position=position).first()
        before = row.cord_spec.code if row else ""
        if before != spec.code:
            SpecSheetCord.objects.update_or_create(spec_sheet=sheet, position=position, defaults={"cord_spec": spec})
            changed[position] = [before, spec.code]
    return changed


def _put_factory_references(sheet: SpecSheet, references: list[ReferenceValue]) -> dict[str, list[Any]]:
    changed: dict[str, list[Any]] = {}
    for reference in references:
        reference.checked()
        row = FactoryReference.objects.filter(
            spec_sheet=sheet, kind=reference.kind, position=reference.position
        ).first()
        before = [row.value, row.tolerance] if row else []
        after = [reference.value, reference.tolerance]
        if before != after:
            FactoryReference.objects.update_or_create(
                spec_sheet=sheet,
                kind=reference.kind,
                position=reference.position,
                defaults={"value": reference.value, "tolerance": reference.tolerance},
            )
            changed[reference.kind] = [before, after]
    return changed


def _strike_factory_references(sheet: SpecSheet, gone: Iterable[tuple[str, str]]) -> dict[str, list[Any]]:
    changed: dict[str, list[Any]] = {}
    for kind, position in gone:
        row = FactoryReference.objects.filter(spec_sheet=sheet, kind=kind, position=position).first()
        if row is not None:
            changed[kind] = [[row.value, row.tolerance], []]
            row.delete()
    return changed
