"""Files of specs: rows with record = cord_spec and rows with record = spec_sheet, in any order."""

from dataclasses import replace
from typing import Any, cast

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
from service.said import Said, mark, say
from service.units import Dimension

DRAW_STEP = ranges.Range(mark("draw-length step"), 0.001, 0.1, "m")
YOKE_LEGS = ranges.Range(mark("yoke legs"), 0, 4, mark("legs"))
CORD_SPEC, SPEC_SHEET = "cord_spec", "spec_sheet"
_LENGTH, _FORCE, _RATE = Dimension.LENGTH, Dimension.FORCE, Dimension.TWIST_RATE

# Each column with the field of the register that it fills.
OF_CORD_SPECS, OF_SPEC_SHEETS = mark("cord spec: %(about)s"), mark("spec sheet: %(about)s")


def of_rows(column: Column, rows: str) -> Column:
    """The column of a file of both, which says on which of its rows it belongs."""
    return replace(column, about=say(rows, about=column.about))


def about_on_its_rows(column: Column) -> str:
    """What a column holds, for a form, which is of one of the two."""
    about = column.about
    if isinstance(about, Said) and about.pattern in (OF_CORD_SPECS, OF_SPEC_SHEETS):
        return cast(str, about.parts["about"])
    return about


CORD_COLUMNS: dict[Column, str] = {
    choice("position", dict(Position.choices), say("where it sits")): "position",
    quantity("length", ranges.CORD_LENGTH, _LENGTH, say("length on the pins")): "length_m",
    whole("strands", ranges.STRANDS, say("strands")): "strands",
    choice("fibre", dict(Fibre.choices), say("fibre class")): "fibre",
    whole("rated_shots", ranges.RATED_SHOTS, say("shots by which 10 %% are condemned")): "rated_shots",
    number("rated_months", ranges.RATED_MONTHS, say("months by which 10 %% are condemned")): "rated_months",
    money("price", ranges.PRICE, say("price")): "price",
    whole("lead_days", ranges.LEAD_DAYS, say("days from order to arrival")): "lead_days",
    whole("reorder_point", ranges.STOCK_COUNT, say("reorder at this count")): "reorder_point",
    may_be_emptied(quantity("diameter", ranges.CORD_DIAMETER, _LENGTH, say("diameter"))): "diameter_m",
    may_be_emptied(quantity("twists_min", ranges.TWISTS_PER_M, _RATE, say("fewest twists"))): "twists_per_m_min",
    may_be_emptied(quantity("twists_max", ranges.TWISTS_PER_M, _RATE, say("most twists"))): "twists_per_m_max",
    whole("yoke_legs", YOKE_LEGS, say("legs of the yoke")): "yoke_legs",
    may_be_emptied(
        quantity("rated_peak_weight", ranges.PEAK_WEIGHT, _FORCE, say("weight rated at"))
    ): "rated_peak_weight_n",
    may_be_emptied(
        number("hard_limit_life", ranges.LIFE, say("share of rated life never passed"))
    ): "hard_limit_life",
}  # fmt: skip
SHEET_COLUMNS: dict[Column, str] = {
    text("model", 60, say("model")): "model",
    choice("bow_kind", dict(BowKind.choices), say("kind of bow")): "bow_kind",
    may_be_emptied(choice("cam_system", dict(CamSystem.choices), say("cam system of a compound")), ""): "cam_system",
    choice("hands", {"both": say("both"), "right": say("right"), "left": say("left")}, say("hands made")): "hands",
    quantity("draw_length_min", ranges.DRAW_LENGTH, _LENGTH, say("shortest true draw")): "draw_length_min_m",
    quantity("draw_length_max", ranges.DRAW_LENGTH, _LENGTH, say("longest true draw")): "draw_length_max_m",
    may_be_emptied(
        quantity("draw_length_step", DRAW_STEP, _LENGTH, say("step of the draw length"))
    ): "draw_length_step_m",
    quantity("peak_weight_min", ranges.PEAK_WEIGHT, _FORCE, say("lightest peak weight")): "peak_weight_min_n",
    quantity("peak_weight_max", ranges.PEAK_WEIGHT, _FORCE, say("heaviest peak weight")): "peak_weight_max_n",
    **{
        may_be_emptied(
            quantity(
                arm.removesuffix("_m"),
                SPEC_SHEET_RANGES[arm],
                _LENGTH,
                say("measured with a rule; empty = assumed"),
            )
        ): arm
        for arm in ARM_FIELDS
    },
    may_be_emptied(
        choice("stop_kind", {"limb": say("limb stop"), "cable": say("cable stop")}, say("what the stop meets")), ""
    ): "stop_kind",
    yes_no("stop_kind_measured", say("the stop kind was looked at, not assumed")): "stop_kind_measured",
}
POSITION_FIELDS = {f"{position.value}_cord": position.value for position in Position}
POSITION_COLUMNS = tuple(text(field, 40, say("code of the cord spec it takes")) for field in POSITION_FIELDS)
COLUMNS = (
    choice(
        "record", {CORD_SPEC: say("cord spec"), SPEC_SHEET: say("spec sheet")}, say("what the row is"), required=True
    ),
    text("code", 40, say("short name"), required=True),
    may_be_emptied(text("maker", 60, say("maker")), ""),
    *(of_rows(column, OF_CORD_SPECS) for column in CORD_COLUMNS),
    *(of_rows(column, OF_SPEC_SHEETS) for column in (*SHEET_COLUMNS, *POSITION_COLUMNS)),
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
                say("a %(what)s has no %(field)s", what=what, field=field),
                allowed=say("an empty cell"),
                fix=say("empty the cell, or correct 'record'"),
                column=field,
            )
    for field in needs:
        if row.get(field) in (None, ""):
            raise CellError(
                say("a %(what)s needs it", what=what),
                allowed=say("a value on every such row"),
                fix=say("fill it in"),
                column=field,
            )


def _in_order(row: Row, low: str, high: str) -> None:
    least, most = row.get(low), row.get(high)
    if least is not None and most is not None and least > most:
        raise CellError(
            say("it is below %(lower)s", lower=row.layout.header_of(low)),
            allowed=say("%(lower)s or more", lower=row.layout.header_of(low)),
            fix=say("swap them"),
            column=high,
        )


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
        needed = say("a compound needs its cam system")
        why = needed if kind == BowKind.COMPOUND else say("a %(kind)s has no cams", kind=kind)
        raise CellError(
            why,
            allowed=say("%(values)s; empty for others", values=", ".join(CamSystem.values)),
            fix=say("correct it"),
            column="cam_system",
        )
    for field, position in POSITION_FIELDS.items():
        if field in row.values and position not in POSITIONS_BY_CAM_SYSTEM[system]:
            raise CellError(
                say("a %(kind)s has no %(position)s", kind=system or kind, position=position),
                allowed=", ".join(POSITIONS_BY_CAM_SYSTEM[system]),
                fix=say("empty the cell, or correct the cam system"),
                column=field,
            )


def _cord_spec(row: Row, field: str, desk: Desk) -> CordSpec:
    code, position = row[field], POSITION_FIELDS[field]
    spec = CordSpec.objects.filter(code=code).first()
    try:
        spec = spec or look_up(desk.cord_specs(), code, say("cord spec"), "specs")
    except CellError as fault:
        fault.column = field
        raise
    if spec.position != position:
        raise CellError(
            say("%(code)s is a %(position)s", code=code, position=spec.position),
            allowed=say("the code of a %(position)s", position=position),
            fix=say("name the right one"),
            column=field,
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
    say("cord specs (record = cord_spec) and spec sheets (record = spec_sheet), mixed in any order"),
    COLUMNS,
    ("record", "code"),
    _take,
    order=lambda row: row["record"] != CORD_SPEC,
)
