"""Files of specs: rows with record = cord_spec and rows with record = spec_sheet, in any order."""

from typing import Any

from fleet import ranges, record
from fleet.models import CordSpec, SpecSheet
from fleet.models.specs import ARM_FIELDS
from fleet.record.specs import SPEC_SHEET_RANGES
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, BowKind, CamSystem, Fibre, Position
from service.intake.changes import Change, Status, compare
from service.intake.columns import Column, may_be_emptied
from service.intake.desk import Desk, look_up
from service.intake.kind import Kind
from service.intake.measured import FAMILIES, MEASUREMENT_COLUMNS, TOLERANCE, emptied_families, fields_of, values_of
from service.intake.numbers import money, number, quantity, whole
from service.intake.problems import CellError
from service.intake.rows import Row
from service.intake.words import choice, text, yes_no
from service.units import Dimension

DRAW_STEP = ranges.Range("draw-length step", 0.001, 0.1, "m")
YOKE_LEGS = ranges.Range("yoke legs", 0, 4, "legs")
CORD_SPEC, SPEC_SHEET = "cord_spec", "spec_sheet"
_LENGTH, _FORCE, _RATE = Dimension.LENGTH, Dimension.FORCE, Dimension.TWIST_RATE

# Each column with the field of the register that it fills.
CORD_COLUMNS: dict[Column, str] = {
    choice("position", dict(Position.choices), "cord spec: where it sits"): "position",
    quantity("length", ranges.CORD_LENGTH, _LENGTH, "cord spec: length on the pins"): "length_m",
    whole("strands", ranges.STRANDS, "cord spec: strands"): "strands",
    choice("fibre", dict(Fibre.choices), "cord spec: fibre class"): "fibre",
    whole("rated_shots", ranges.RATED_SHOTS, "cord spec: shots by which 10 % are condemned"): "rated_shots",
    number("rated_months", ranges.RATED_MONTHS, "cord spec: months by which 10 % are condemned"): "rated_months",
    money("price", ranges.PRICE, "cord spec: price"): "price",
    whole("lead_days", ranges.LEAD_DAYS, "cord spec: days from order to arrival"): "lead_days",
    whole("reorder_point", ranges.STOCK_COUNT, "cord spec: reorder at this count"): "reorder_point",
    may_be_emptied(quantity("diameter", ranges.CORD_DIAMETER, _LENGTH, "cord spec: diameter")): "diameter_m",
    may_be_emptied(quantity("twists_min", ranges.TWISTS_PER_M, _RATE, "cord spec: fewest twists")): "twists_per_m_min",
    may_be_emptied(quantity("twists_max", ranges.TWISTS_PER_M, _RATE, "cord spec: most twists")): "twists_per_m_max",
    whole("yoke_legs", YOKE_LEGS, "cord spec: legs of the yoke"): "yoke_legs",
    may_be_emptied(
        quantity("rated_peak_weight", ranges.PEAK_WEIGHT, _FORCE, "cord spec: weight rated at")
    ): "rated_peak_weight_n",
    may_be_emptied(
        number("hard_limit_life", ranges.LIFE, "cord spec: share of rated life never passed")
    ): "hard_limit_life",
}  # fmt: skip
SHEET_COLUMNS: dict[Column, str] = {
    text("model", 60, "spec sheet: model"): "model",
    choice("bow_kind", dict(BowKind.choices), "spec sheet: kind of bow"): "bow_kind",
    may_be_emptied(
        choice("cam_system", dict(CamSystem.choices), "spec sheet: cam system of a compound"), ""
    ): "cam_system",
    choice("hands", {"both": "both", "right": "right", "left": "left"}, "spec sheet: hands made"): "hands",
    quantity("draw_length_min", ranges.DRAW_LENGTH, _LENGTH, "spec sheet: shortest true draw"): "draw_length_min_m",
    quantity("draw_length_max", ranges.DRAW_LENGTH, _LENGTH, "spec sheet: longest true draw"): "draw_length_max_m",
    may_be_emptied(
        quantity("draw_length_step", DRAW_STEP, _LENGTH, "spec sheet: step of the draw length")
    ): "draw_length_step_m",
    quantity("peak_weight_min", ranges.PEAK_WEIGHT, _FORCE, "spec sheet: lightest peak weight"): "peak_weight_min_n",
    quantity("peak_weight_max", ranges.PEAK_WEIGHT, _FORCE, "spec sheet: heaviest peak weight"): "peak_weight_max_n",
    **{
        may_be_emptied(
            quantity(
                arm.removesuffix("_m"),
                SPEC_SHEET_RANGES[arm],
                _LENGTH,
                "spec sheet: measured with a rule; empty = assumed",
            )
        ): arm
        for arm in ARM_FIELDS
    },
    may_be_emptied(
        choice("stop_kind", {"limb": "limb stop", "cable": "cable stop"}, "spec sheet: what the stop meets"), ""
    ): "stop_kind",
    yes_no("stop_kind_measured", "spec sheet: the stop kind was looked at, not assumed"): "stop_kind_measured",
}
POSITION_FIELDS = {f"{position.value}_cord": position.value for position in Position}
POSITION_COLUMNS = tuple(text(field, 40, "spec sheet: code of the cord spec it takes") for field in POSITION_FIELDS)
COLUMNS = (
    choice("record", {CORD_SPEC: "cord spec", SPEC_SHEET: "spec sheet"}, "what the row is", required=True),
    text("code", 40, "short name", required=True),
    may_be_emptied(text("maker", 60, "maker"), ""),
    *CORD_COLUMNS,
    *SHEET_COLUMNS,
    *POSITION_COLUMNS,
    *MEASUREMENT_COLUMNS,
)
_CORD_FIELDS = {column.field: name for column, name in CORD_COLUMNS.items()} | {"maker": "maker"}
_SHEET_FIELDS = {column.field: name for column, name in SHEET_COLUMNS.items()} | {"maker": "maker"}
_MEASURED = {field + end for field in FAMILIES for end in ("", TOLERANCE)}
CORD_NEEDS = ("position", "length", "strands", "fibre", "rated_shots", "rated_months")
SHEET_NEEDS = (
    "maker", "model", "bow_kind", "draw_length_min", "draw_length_max", "peak_weight_min", "peak_weight_max",
)  # fmt: skip


def _take(row: Row, desk: Desk) -> Change:
    if row["record"] == CORD_SPEC:
        _only(row, {*_CORD_FIELDS}, CORD_NEEDS)
        return _take_cord_spec(row, desk)
    _only(row, {*_SHEET_FIELDS, *POSITION_FIELDS, *_MEASURED}, SHEET_NEEDS)
    return _take_spec_sheet(row, desk)


def _only(row: Row, belongs: set[str], needs: tuple[str, ...]) -> None:
    what = row["record"]
    for field in row.values:
        if field not in belongs and field not in ("record", "code"):
            raise CellError(
                f"a {what} has no {field}", allowed="an empty cell", fix="empty the cell, or correct 'record'",
                column=field,
            )  # fmt: skip
    for field in needs:
        if row.get(field) in (None, ""):
            raise CellError(f"a {what} needs it", allowed="a value on every such row", fix="fill it in", column=field)


def _in_order(row: Row, low: str, high: str) -> None:
    least, most = row.get(low), row.get(high)
    if least is not None and most is not None and least > most:
        raise CellError(
            f"it is below {row.layout.header_of(low)}", allowed=f"{row.layout.header_of(low)} or more", fix="swap them",
            column=high,
        )  # fmt: skip


def _take_cord_spec(row: Row, desk: Desk) -> Change:
    _in_order(row, "twists_min", "twists_max")
    change = compare(row, f"cord spec {row['code']}", known_cord_spec(row["code"]))
    if change.status is not Status.UNCHANGED:
        record.put_cord_spec(by=desk.by, code=row["code"], **_attributes(row, _CORD_FIELDS))
    return change


def _take_spec_sheet(row: Row, desk: Desk) -> Change:
    _in_order(row, "draw_length_min", "draw_length_max")
    _in_order(row, "peak_weight_min", "peak_weight_max")
    _check_cams(row)
    cords = {
        position: _cord_spec(row, field, desk) for field, position in POSITION_FIELDS.items() if field in row.values
    }
    before = known_spec_sheet(row["code"])
    references = values_of(row)
    change = compare(row, f"spec sheet {row['code']}", before)
    if change.status is not Status.UNCHANGED:
        record.put_spec_sheet(
            by=desk.by,
            code=row["code"],
            cords=cords,
            references=references,
            references_gone=emptied_families(row),
            **_attributes(row, _SHEET_FIELDS),
        )
    return change


def _check_cams(row: Row) -> None:
    kind, system = row["bow_kind"], row.get("cam_system", "")
    if (kind == BowKind.COMPOUND) != bool(system):
        why = "a compound needs its cam system" if kind == BowKind.COMPOUND else f"a {kind} has no cams"
        raise CellError(
            why, allowed=", ".join(CamSystem.values) + "; empty for others", fix="correct it", column="cam_system"
        )
    for field, position in POSITION_FIELDS.items():
        if field in row.values and position not in POSITIONS_BY_CAM_SYSTEM[system]:
            raise CellError(
                f"a {system or kind} has no {position}",
                allowed=", ".join(POSITIONS_BY_CAM_SYSTEM[system]),
                fix="empty the cell, or correct the cam system",
                column=field,
            )


def _cord_spec(row: Row, field: str, desk: Desk) -> CordSpec:
    code, position = row[field], POSITION_FIELDS[field]
    spec = CordSpec.objects.filter(code=code).first()
    try:
        spec = spec or look_up(desk.cord_specs(), code, "cord spec", "specs")
    except CellError as fault:
        fault.column = field
        raise
    if spec.position != position:
        raise CellError(
            f"{code} is a {spec.position}", allowed=f"the code of a {position}", fix="name the right one", column=field
        )
    return spec


def known_cord_spec(code: str) -> dict[str, Any] | None:
    """What the book has of a cord spec, by field; None where there is none of that code."""
    return _before(CordSpec.objects.filter(code=code).first(), CORD_SPEC, _CORD_FIELDS)


def known_spec_sheet(code: str) -> dict[str, Any] | None:
    """What the book has of a spec sheet with its cord specs and the maker's values, by field; None where none is."""
    sheet = SpecSheet.objects.filter(code=code).first()
    before = _before(sheet, SPEC_SHEET, _SHEET_FIELDS)
    if sheet is None or before is None:
        return None
    taken = {cord.position: cord.cord_spec.code for cord in sheet.cords.select_related("cord_spec")}
    before |= {field: taken.get(position) for field, position in POSITION_FIELDS.items()}
    return before | fields_of(sheet.factory_references.all())


def _before(known: CordSpec | SpecSheet | None, what: str, fields: dict[str, str]) -> dict[str, Any] | None:
    if known is None:
        return None
    return {"record": what, "code": known.code, **{field: getattr(known, name) for field, name in fields.items()}}


def _attributes(row: Row, fields: dict[str, str]) -> dict[str, Any]:
    return {name: row[field] for field, name in fields.items() if field in row.values}


SPECS = Kind(
    "specs",
    "cord specs (record = cord_spec) and spec sheets (record = spec_sheet), mixed in any order",
    COLUMNS,
    ("record", "code"),
    _take,
    order=lambda row: row["record"] != CORD_SPEC,
)
