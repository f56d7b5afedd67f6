"""The column families of reference measurements: a value and a tolerance for each kind, twists by position."""

import dataclasses
from collections.abc import Iterable, Mapping
from typing import Any

from fleet import ranges
from fleet.record import ReferenceValue
from fleet.vocabulary import Dimension, MeasurementKind, Position, dimension_of
from service import units
from service.intake.columns import Column, may_be_emptied
from service.intake.numbers import half_turns, quantity
from service.intake.problems import CellError
from service.intake.rows import Row
from service.said import say
from service.timing.tolerance import DEFAULT_TOLERANCES_SI
from service.wording import named

_DIMENSIONS = {
    Dimension.LENGTH: units.Dimension.LENGTH,
    Dimension.FORCE: units.Dimension.FORCE,
    Dimension.SHARE: units.Dimension.SHARE,
    Dimension.TURNS: units.Dimension.TURNS,
}
TOLERANCE = "_tolerance"
HOUSE_TOLERANCES = {kind.value: tolerance for kind, tolerance in DEFAULT_TOLERANCES_SI.items()}


def _in_turns(column: Column) -> Column:
    """A column whose name already says turns (limb_bolt_turns)."""
    return dataclasses.replace(
        column,
        units=("",),
        read=lambda text, _unit, values, desk: column.read(text, "turns", values, desk),
        show=lambda value, _unit: column.show(value, "turns"),
        exact=None,
    )


def _family(kind: MeasurementKind) -> tuple[Column, Column]:
    dimension, allowed = _DIMENSIONS[dimension_of(kind)], ranges.MEASUREMENTS[kind]
    value = quantity(kind.value, allowed, dimension, named(kind.label))
    tolerance = quantity(
        kind.value + TOLERANCE,
        allowed,
        dimension,
        say("plus or minus, of %(kind)s", kind=named(kind.label)),
        tolerance=True,
    )
    if kind is MeasurementKind.LIMB_BOLT_TURNS:
        return _in_turns(value), _in_turns(tolerance)
    return value, tolerance


def _twists(position: Position) -> tuple[Column, Column]:
    field, label = f"{position.value}_twists", named(position.label)
    some = dataclasses.replace(ranges.HALF_TWISTS, low=1)
    return (
        half_turns(field, ranges.HALF_TWISTS, say("twists in the %(label)s", label=label), as_turns=True),
        half_turns(
            field + TOLERANCE, some, say("plus or minus, of the twists in the %(label)s", label=label), as_turns=True
        ),
    )


# Field -> (measurement kind, position) of every family.
FAMILIES: dict[str, tuple[str, str]] = {
    **{kind.value: (kind.value, "") for kind in MeasurementKind if kind is not MeasurementKind.TWISTS},
    **{f"{position.value}_twists": (MeasurementKind.TWISTS.value, position.value) for position in Position},
}
MEASUREMENT_COLUMNS: tuple[Column, ...] = tuple(
    may_be_emptied(column)
    for family in (
        *(_family(kind) for kind in MeasurementKind if kind is not MeasurementKind.TWISTS),
        *(_twists(position) for position in Position),
    )
    for column in family
)


def values_of(row: Row) -> list[ReferenceValue]:
    """The measurements of a row with their tolerances: the row's own, else the house's default."""
    values = []
    for field, (kind, position) in FAMILIES.items():
        if row.get(field) is None:
            if row.get(field + TOLERANCE) is not None:
                raise CellError(
                    say("a tolerance without its value"),
                    allowed=say("a value beside it"),
                    fix=say("fill in %(field)s, too", field=field),
                    column=field + TOLERANCE,
                )
            continue
        tool = row.get("weight_tool" if dimension_of(kind) == Dimension.FORCE else "length_tool", "")
        values.append(ReferenceValue(kind, row[field], _tolerance(row, field, kind), position, tool))
    return values


def emptied_families(row: Row) -> list[tuple[str, str]]:
    """The measurements (kind, position) whose value the row empties on purpose."""
    return [family for field, family in FAMILIES.items() if field in row.values and row[field] is None]


def _tolerance(row: Row, field: str, kind: str) -> float:
    given = row.get(field + TOLERANCE)
    tolerance = given if given is not None else HOUSE_TOLERANCES.get(kind)
    if tolerance is None:
        raise CellError(
            say("there is no house default for its tolerance"),
            allowed=say("a value with its tolerance"),
            fix=say("add a column %(field)s%(tolerance)s in the same unit", field=field, tolerance=TOLERANCE),
            column=field,
        )
    return float(tolerance)


def fields_of(measurements: Iterable[Any]) -> dict[str, float]:
    """Stored measurements (kind, position, value, tolerance) by the field names of the families."""
    names: Mapping[tuple[str, str], str] = {family: field for field, family in FAMILIES.items()}
    found: dict[str, float] = {}
    for one in measurements:
        field = names[one.kind, one.position]
        found[field] = one.value
        found[field + TOLERANCE] = one.tolerance
    return found
