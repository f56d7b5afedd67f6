"""Files of cords: what each is, its use before the book began, where it is fitted, and why it came off."""

from datetime import datetime
from typing import Any

from fleet import record
from fleet.models import Cord, Fitting
from fleet.ranges import HALF_TWISTS, PRIOR_HEAT, PRIOR_SHOTS, PRIOR_TENSION
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, Finding, Position, RemovalReason
from service.intake.changes import Change, Status, compare
from service.intake.columns import may_be_emptied
from service.intake.desk import Desk
from service.intake.kind import Kind
from service.intake.numbers import half_turns, number
from service.intake.problems import CellError
from service.intake.rows import Row
from service.intake.times import day, instant
from service.intake.words import bow_column, choice, cord_spec_column, site_column, text
from service.said import say

PRIOR_USE = {"none": say("new"), "known": say("known"), "unknown": say("unknown")}
PRIOR_FIELDS = ("prior_shots", "prior_shots_sd", "prior_tension_h", "prior_heat_h", "prior_heat_h_sd")
_FITTING_FIELDS = ("position", "fitted_at", "twists", "removed_at", "removed_why", "finding")

COLUMNS = (
    text("serial", 40, say("serial of the cord: unique"), required=True),
    cord_spec_column(),
    may_be_emptied(text("lot", 40, say("the maker's lot")), ""),
    bow_column(required=False),
    site_column(),
    choice("position", dict(Position.choices), say("where it is fitted; empty = the cord spec's position")),
    half_turns("twists", HALF_TWISTS, say("twists when fitted"), as_turns=False),
    choice("prior_use", PRIOR_USE, say("use before the book began: none, known or unknown")),
    number("prior_shots", PRIOR_SHOTS, say("shots before the book began")),
    number("prior_shots_sd", PRIOR_SHOTS, say("their standard deviation")),
    number("prior_tension_h", PRIOR_TENSION, say("hours under tension before the book began")),
    number("prior_heat_h", PRIOR_HEAT, say("heat hours (at 23 °C) before the book began")),
    number("prior_heat_h_sd", PRIOR_HEAT, say("their standard deviation")),
    choice("removed_why", dict(RemovalReason.choices), say("why it came off")),
    choice("finding", dict(Finding.choices), say("what condemned it")),
    may_be_emptied(day("made_on", say("day on which it was made"))),
    instant("fitted_at", say("when it was fitted"), day_alone=True),
    instant("removed_at", say("when it came off"), day_alone=True),
)


def _take(row: Row, desk: Desk) -> Change:
    _check_use(row)
    _check_fitting(row)
    cord = Cord.objects.filter(serial=row["serial"]).select_related("spec").first()
    fitting = _fitting_of(cord, row)
    _check_against(fitting, row)
    change = compare(row, row["serial"], _before(cord, fitting), aside=("site",))
    if change.status is Status.UNCHANGED:
        return change
    written = record.put_cord(
        by=desk.by,
        serial=row["serial"],
        spec=row["cord_spec"],
        at=desk.now,
        **row.given("lot", "made_on", "prior_use", *PRIOR_FIELDS),
    )
    if "tag" in row.values:
        fitted = record.fit_cord(
            by=desk.by,
            cord=written,
            bow=row["tag"],
            position=row.get("position", row["cord_spec"].position),
            at=row["fitted_at"],
            now=desk.now,
            half_twists=row.get("twists"),
        )
        if "removed_at" in row.values and fitted.removed_at is None:
            record.remove_cord(
                by=desk.by,
                fitting=fitted,
                at=row["removed_at"],
                why=row["removed_why"],
                finding=row.get("finding", ""),
                now=desk.now,
            )
    return change


def _check_use(row: Row) -> None:
    given = [field for field in PRIOR_FIELDS if row.get(field)]
    if given and row.get("prior_use", "known") != "known":
        raise CellError(
            say("prior figures are given for a cord whose prior use is %(prior_use)s", prior_use=row["prior_use"]),
            allowed=say("an empty cell"),
            fix=say("write known into prior_use, or empty the figure"),
            column=given[0],
        )
    if given and "prior_use" not in row.values:
        row.values["prior_use"] = "known"


def _check_fitting(row: Row) -> None:
    if "tag" not in row.values:
        if given := [field for field in _FITTING_FIELDS if field in row.values and field != "position"]:
            raise CellError(
                say("on which bow?"), allowed=say("a fitting names its bow"), fix=say("fill in tag"), column=given[0]
            )
        return
    bow, spec = row["tag"], row["cord_spec"]
    _need(row, "fitted_at", say("a fitting has its time"))
    position = row.get("position", spec.position)
    positions = POSITIONS_BY_CAM_SYSTEM[bow.spec_sheet.cam_system]
    if position != spec.position or position not in positions:
        raise CellError(
            say(
                "%(spec)s is a %(position)s, and %(tag)s takes %(positions)s",
                spec=spec.code,
                position=spec.position,
                tag=bow.tag,
                positions=", ".join(positions),
            ),
            allowed=say("a cord spec of one of %(positions)s", positions=", ".join(positions)),
            fix=say("correct the position, the cord spec or the tag"),
            column="position" if "position" in row.values else "cord_spec",
        )
    if row.get("made_on") and row["made_on"] > row["fitted_at"].date():
        raise CellError(
            say("it was made after it was fitted"),
            allowed=say("up to its fitting"),
            fix=say("correct it"),
            column="made_on",
        )
    _check_removal(row)


def _check_removal(row: Row) -> None:
    if "removed_at" in row.values:
        _need(row, "removed_why", say("a cord that came off has its reason"))
        if row["removed_at"] < row["fitted_at"]:
            raise CellError(
                say("it came off before it was fitted"),
                allowed=say("from its fitting on"),
                fix=say("swap them"),
                column="removed_at",
            )
    elif given := [field for field in ("removed_why", "finding") if field in row.values]:
        raise CellError(
            say("when did it come off?"), allowed=say("a time in removed_at"), fix=say("fill it in"), column=given[0]
        )
    if row.get("removed_why") == RemovalReason.CONDEMNED:
        _need(row, "finding", say("a condemned cord names its finding"))


def _need(row: Row, field: str, why: str) -> None:
    if field not in row.values:
        raise CellError(why, allowed=say("a value"), fix=say("fill it in"), column=field)


def _fitting_of(cord: Cord | None, row: Row) -> Fitting | None:
    if cord is None or "tag" not in row.values:
        return None
    return Fitting.objects.filter(cord=cord, bow=row["tag"], fitted_at=row["fitted_at"]).select_related("bow").first()


def _check_against(fitting: Fitting | None, row: Row) -> None:
    """A fitting that is in the book is a fact: its twists and its end are not rewritten by a file."""
    if fitting is None:
        return
    facts: dict[str, Any] = {"twists": fitting.half_twists}
    if fitting.removed_at is not None:
        facts |= {"removed_at": fitting.removed_at, "removed_why": fitting.removed_why, "finding": fitting.finding}
    for field, known in facts.items():
        if field in row.values and row[field] != known:
            shown = f"{known:%Y-%m-%dT%H:%M}Z" if isinstance(known, datetime) else str(known)
            raise CellError(
                say("the book has this fitting with another value"),
                allowed=say("%(shown)s half turns, or an empty cell", shown=shown)
                if field == "twists" and known is not None
                else say("%(shown)s, or an empty cell", shown=shown),
                fix=say("leave it as it is; record a reset or a new fitting at the bench"),
                column=field,
            )


def _before(cord: Cord | None, fitting: Fitting | None) -> dict[str, Any] | None:
    if cord is None:
        return None
    known: dict[str, Any] = {
        "serial": cord.serial,
        "cord_spec": cord.spec,
        "lot": cord.lot,
        "made_on": cord.made_on,
        "prior_use": cord.prior_use,
        **{field: getattr(cord, field) for field in PRIOR_FIELDS},
    }
    if fitting is not None:
        known |= {
            "tag": fitting.bow,
            "position": fitting.position,
            "twists": fitting.half_twists,
            "fitted_at": fitting.fitted_at,
            "removed_at": fitting.removed_at,
            "removed_why": fitting.removed_why,
            "finding": fitting.finding,
        }
    return known


def _earliest_first(row: Row) -> tuple[bool, datetime | None]:
    fitted_at = row.get("fitted_at")
    return (fitted_at is not None, fitted_at)


CORDS = Kind(
    "cords",
    say("strings and cables, where they are fitted and why they came off"),
    COLUMNS,
    ("serial", "fitted_at"),
    _take,
    order=_earliest_first,
)
