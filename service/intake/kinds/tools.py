"""Files of measuring tools."""

import dataclasses

from fleet import record
from fleet.models import MeasuringTool
from fleet.ranges import Range
from fleet.vocabulary import ToolKind
from service import units
from service.intake.changes import Change, Status, compare
from service.intake.columns import Column, may_be_emptied
from service.intake.desk import Desk, Values
from service.intake.kind import Kind
from service.intake.numbers import quantity
from service.intake.problems import CellError
from service.intake.rows import Row
from service.intake.times import day
from service.intake.words import choice, site_column, text
from service.quantity_refusals import QuantityError
from service.said import say
from service.units import Dimension

READS = {
    ToolKind.SCALE: Dimension.FORCE,
    ToolKind.DRAW_BOARD: Dimension.LENGTH,
    ToolKind.RULE: Dimension.LENGTH,
    ToolKind.LOGGER: Dimension.TEMPERATURE,
}
KELVIN_STEPS = Range("resolution", 0.01, 5, "K")
RESOLUTION = "resolution"


def _resolution(allowed: Range, dimension: Dimension) -> Column:
    plain = quantity(
        RESOLUTION,
        allowed,
        dimension,
        say("the finest step of %(dimension)s that it reads", dimension=say(str(dimension))),
    )

    def read(text_typed: str, unit: str, values: Values, desk: Desk) -> float:
        _check_reads(values.get("kind"), dimension)
        return float(plain.read(text_typed, unit, values, desk))

    return dataclasses.replace(plain, field=f"{RESOLUTION}_of_{dimension}", read=read, stem=RESOLUTION)


def _kelvin_resolution() -> Column:
    """A step of temperature; only kelvin will do, since degC and degF have an offset."""

    def read(text_typed: str, unit: str, values: Values, desk: Desk) -> float:
        _check_reads(values.get("kind"), Dimension.TEMPERATURE)
        typed = text_typed.replace(",", ".") if desk.decimal_comma else text_typed
        try:
            return units.read_quantity(typed, unit, name=RESOLUTION, low=KELVIN_STEPS.low, high=KELVIN_STEPS.high)
        except QuantityError as fault:
            raise CellError(
                str(fault).rstrip("."), allowed=say("0.01 to 5 K"), fix=say("give the logger's step")
            ) from fault

    about = say("the finest step of %(dimension)s that it reads", dimension=say("temperature"))
    return Column(
        f"{RESOLUTION}_of_temperature", read, about, units=("k",), stem=RESOLUTION, allowed=say("0.01 to 5 K")
    )


def _check_reads(kind: str | None, dimension: Dimension) -> None:
    if kind is not None and READS[ToolKind(kind)] is not dimension:
        reads = READS[ToolKind(kind)]
        suffix = "k" if reads is Dimension.TEMPERATURE else units.suffixes(reads)[0]
        raise CellError(
            say(
                "a %(kind)s reads a %(reads)s, not a %(dimension)s",
                kind=kind,
                reads=say(str(reads)),
                dimension=say(str(dimension)),
            ),
            allowed=say("a resolution of %(reads)s", reads=say(str(reads))),
            fix=say("put it into a column %(resolution)s_%(suffix)s", resolution=RESOLUTION, suffix=suffix),
        )


RESOLUTIONS = (
    _resolution(Range(RESOLUTION, 1e-5, 0.01, "m"), Dimension.LENGTH),
    _resolution(Range(RESOLUTION, 0.01, 10, "N"), Dimension.FORCE),
    _kelvin_resolution(),
)
COLUMNS = (
    text("code", 30, say("short name, as on the tool"), required=True),
    choice("kind", dict(ToolKind.choices), say("scale, draw board, rule or logger"), required=True),
    site_column(),
    *(may_be_emptied(column) for column in RESOLUTIONS),
    may_be_emptied(day("calibration_due_on", say("day until which its calibration holds"), past=False)),
)


def _take(row: Row, desk: Desk) -> Change:
    site = desk.site_of(row.values)
    tool = MeasuringTool.objects.filter(code=row["code"]).first()
    before = None if tool is None else {
        "code": tool.code,
        "kind": tool.kind,
        "site": tool.site,
        f"{RESOLUTION}_of_{READS[ToolKind(tool.kind)]}": tool.resolution,
        "calibration_due_on": tool.calibration_due_on,
    }  # fmt: skip
    change = compare(row, row["code"], before)
    if change.status is not Status.UNCHANGED:
        kept_site = site if tool is None or "site" in row.values else tool.site
        step = f"{RESOLUTION}_of_{READS[ToolKind(row['kind'])]}"
        record.put_tool(
            by=desk.by,
            code=row["code"],
            site=kept_site,
            kind=row["kind"],
            **({RESOLUTION: row[step]} if step in row.values else {}),
            **row.given("calibration_due_on"),
        )
    return change


TOOLS = Kind("tools", say("measuring tools with resolution and calibration"), COLUMNS, ("code",), _take)
