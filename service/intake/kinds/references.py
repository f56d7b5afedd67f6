"""Files of reference sets: one row a bow, one column a measurement, with its tolerance beside it."""

from typing import Any

from fleet import record
from fleet.models import ReferenceSet
from fleet.record import ReferenceValue
from fleet.vocabulary import Origin
from service.intake.changes import Change, Difference, Status, compare, same
from service.intake.desk import Desk
from service.intake.kind import Kind
from service.intake.measured import FAMILIES, MEASUREMENT_COLUMNS, TOLERANCE, fields_of, values_of
from service.intake.problems import CellError
from service.intake.rows import Row
from service.intake.times import instant
from service.intake.words import bow_column, choice, site_column, tool_column
from service.said import say

COLUMNS = (
    bow_column(),
    site_column(),
    choice("origin", dict(Origin.choices), say("where the values come from"), required=True),
    instant("taken_at", say("when they were taken"), required=True, day_alone=True),
    tool_column("length_tool", say("code of the tool that read lengths")),
    tool_column("weight_tool", say("code of the tool that read weights")),
    *MEASUREMENT_COLUMNS,
)
_COLUMN_OF = {column.field: column for column in MEASUREMENT_COLUMNS}


def _take(row: Row, desk: Desk) -> Change:
    bow = row["tag"]
    values = values_of(row)
    if not values:
        raise CellError(
            say("the row has no measurement"),
            allowed=say("one or more"),
            fix=say("fill in brace_height_in, for example"),
            column="tag",
        )
    sets = list(ReferenceSet.objects.filter(bow=bow).prefetch_related("measurements__tool").order_by("-version"))
    current = next((one for one in sets if one.current), None)
    alike = [one for one in sets if one.origin == row["origin"] and (one.current or one.taken_at == row["taken_at"])]
    if any(_same_set(one, values) for one in alike):
        return Change(row.line, bow.tag, Status.UNCHANGED)
    if current is not None and current.taken_at > row["taken_at"]:
        raise CellError(
            say(
                "the book has a newer set (version %(version)s), which this one would push aside",
                version=current.version,
            ),
            allowed=say("after %(taken_at)sZ", taken_at=f"{current.taken_at:%Y-%m-%dT%H:%M}"),
            fix=say("take the row out, or correct the time if these values are the newer ones"),
            column="taken_at",
        )
    change = _change(row, current, values)
    record.record_reference_set(
        by=desk.by, bow=bow, origin=row["origin"], taken_at=row["taken_at"], values=values, now=desk.now
    )
    return change


def _same_set(known: ReferenceSet, values: list[ReferenceValue]) -> bool:
    there = fields_of(known.measurements.all())
    given = fields_of(values)
    return there.keys() == given.keys() and all(same(there[field], given[field]) for field in given)


def _change(row: Row, current: ReferenceSet | None, values: list[ReferenceValue]) -> Change:
    """Against the current set; what the new one no longer has is shown, too."""
    bow = row["tag"]
    if current is None:
        return compare(row, bow.tag, None, aside=("site",))
    there = fields_of(current.measurements.all())
    known: dict[str, Any] = {"tag": bow, "origin": current.origin, "taken_at": current.taken_at, **there}
    for one in current.measurements.all():
        if one.tool is not None:
            known["weight_tool" if one.kind.endswith("_weight") else "length_tool"] = one.tool.code
    change = compare(row, bow.tag, known, aside=("site",))
    gone = [field for field in FAMILIES if field in there and field not in row.values]
    dropped = tuple(Difference(_COLUMN_OF[field].headers[0], _shown(field, there), "") for field in gone)
    # Tolerances that came from the house's default have no cell of their own.
    given = fields_of(values)
    silent = tuple(
        Difference(
            _COLUMN_OF[field].headers[0],
            _shown(field, there) if field in there else "",
            _shown(field, given),
        )
        for field in given
        if field.endswith(TOLERANCE) and field not in row.values and not same(there.get(field), given[field])
    )
    return Change(row.line, bow.tag, Status.CHANGED, change.differences + dropped + silent)


def _shown(field: str, values: dict[str, float]) -> str:
    column = _COLUMN_OF[field]
    return column.show(values[field], column.units[0])


REFERENCES = Kind(
    "references",
    say("reference sets of bows: one row a bow, one column a measurement"),
    COLUMNS,
    ("tag", "taken_at"),
    _take,
    order=lambda row: row["taken_at"],
)
