"""Files of bows, with the set-up that they are at."""

import zoneinfo
from datetime import UTC, datetime, time
from typing import Any

from fleet import record
from fleet.models import Bow, SetUp, SpecSheet
from fleet.ranges import DRAW_LENGTH, PEAK_WEIGHT
from fleet.vocabulary import Hand
from service.intake.changes import Change, Status, compare
from service.intake.columns import may_be_emptied
from service.intake.desk import Desk
from service.intake.kind import Kind
from service.intake.numbers import quantity
from service.intake.problems import CellError
from service.intake.rows import Row
from service.intake.times import day, instant
from service.intake.words import choice, site_column, spec_sheet_column, text
from service.quantity_refusals import between
from service.said import say
from service.units import Dimension

EDGE_SLACK = 1e-3  # as fleet.record.set_up has it: a spec sheet is typed in rounded units
_SHEET_LIMITS = {
    "draw_length": ("draw_length_min_m", "draw_length_max_m"),
    "peak_weight": ("peak_weight_min_n", "peak_weight_max_n"),
}

COLUMNS = (
    text("tag", 20, say("asset tag, as on the label"), required=True),
    may_be_emptied(text("serial", 40, say("the maker's serial number")), ""),
    spec_sheet_column(),
    choice("hand", dict(Hand.choices), say("which hand draws"), required=True),
    site_column(),
    day("in_service_on", say("first day in service"), required=True),
    quantity("draw_length", DRAW_LENGTH, Dimension.LENGTH, say("true draw length of the set-up")),
    quantity("peak_weight", PEAK_WEIGHT, Dimension.FORCE, say("peak weight of the set-up")),
    instant("set_up_since", say("set up so since; empty = the first day in service"), day_alone=True),
)


def _take(row: Row, desk: Desk) -> Change:
    bow = Bow.objects.filter(tag=row["tag"]).select_related("site", "spec_sheet").first()
    site = desk.site_named(row.values) or (bow.site if bow else desk.site_of(row.values))
    sheet: SpecSheet = row["spec_sheet"]
    if sheet.hands not in ("both", row["hand"]):
        raise CellError(
            say("%(sheet)s is not made for this hand", sheet=sheet.code),
            allowed=sheet.hands,
            fix=say("correct it, or the spec sheet"),
            column="hand",
        )
    since = _since(row, site.time_zone)
    if since is not None:
        _check_set_up(row, sheet)
    change = compare(row, row["tag"], _before(bow, since))
    if change.status is Status.UNCHANGED:
        return change
    written = record.put_bow(
        by=desk.by,
        tag=row["tag"],
        spec_sheet=sheet,
        hand=row["hand"],
        in_service_on=row["in_service_on"],
        **({"site": site} if bow is None or "site" in row.values else {}),
        **row.given("serial"),
    )
    if since is not None:
        record.set_up(
            by=desk.by,
            bow=written,
            since=since,
            draw_length_m=row["draw_length"],
            peak_weight_n=row["peak_weight"],
            now=desk.now,
        )
    return change


def _since(row: Row, zone: str) -> datetime | None:
    """The instant from which the row's set-up holds; None where it gives none."""
    given = [field for field in ("draw_length", "peak_weight") if field in row.values]
    if len(given) == 1 or (not given and "set_up_since" in row.values):
        missing = "peak_weight" if "draw_length" in given else "draw_length"
        raise CellError(
            say("a set-up is a draw length and a peak weight"),
            allowed=say("both, or neither"),
            fix=say("fill it in"),
            column=missing,
        )
    if not given:
        return None
    begin = datetime.combine(row["in_service_on"], time(), zoneinfo.ZoneInfo(zone)).astimezone(UTC)
    since: datetime = row.get("set_up_since", begin)
    return since


def _check_set_up(row: Row, sheet: SpecSheet) -> None:
    for bound in row.layout.bound:
        if bound.column.field not in _SHEET_LIMITS:
            continue
        low, high = (getattr(sheet, name) for name in _SHEET_LIMITS[bound.column.field])
        slack = EDGE_SLACK * max(abs(low), abs(high))
        if not low - slack <= row[bound.column.field] <= high + slack:
            show = bound.column.show
            raise CellError(
                say("it is outside the range of spec sheet %(sheet)s", sheet=sheet.code),
                allowed=between(show(low, bound.unit), show(high, bound.unit), bound.unit),
                fix=say("correct the value, or the spec sheet if the maker's own says otherwise"),
                column=bound.column.field,
            )


def _before(bow: Bow | None, since: datetime | None) -> dict[str, Any] | None:
    if bow is None:
        return None
    known: dict[str, Any] = {
        "tag": bow.tag,
        "serial": bow.serial,
        "spec_sheet": bow.spec_sheet,
        "hand": bow.hand,
        "site": bow.site,
        "in_service_on": bow.in_service_on,
    }
    entry = SetUp.objects.filter(bow=bow, since=since).first() if since else None
    if entry is not None:
        known |= {
            "draw_length": entry.draw_length_m,
            "peak_weight": entry.peak_weight_n,
            "set_up_since": entry.since,
        }
    return known


BOWS = Kind("bows", say("bows with the set-up that they are at"), COLUMNS, ("tag",), _take)
