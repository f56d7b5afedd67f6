"""Columns of days and instants: ISO 8601, with an offset or in the site's time zone."""

import zoneinfo
from datetime import UTC, date, datetime, time, timedelta

from fleet.record.kernel import FUTURE_ALLOWANCE_S
from service.intake.columns import Column
from service.intake.desk import Desk, Values
from service.intake.problems import CellError
from service.said import mark, say

EARLIEST = date(1990, 1, 1)  # before any entry of a book that is in use; an earlier day is a slip of the keyboard
LATEST_YEARS_AHEAD = 5
_DATE_LENGTH = len("2026-05-01")
_DAY_FORM = say("a day written 2026-05-01")
_INSTANT_FORM = say("a time written 2026-05-01T09:30 (the site's time) or 2026-05-01T09:30+02:00")


def day(field: str, about: str, *, required: bool = False, past: bool = True) -> Column:
    """A calendar day; with `past`, no later than today at the row's site."""

    def read(text: str, _unit: str, values: Values, desk: Desk) -> date:
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            raise CellError(say("it is not a day"), allowed=_DAY_FORM, fix=say("write year-month-day")) from None
        if moment.time() != time():
            raise CellError(say("it has a time of day"), allowed=_DAY_FORM, fix=say("leave the time out"))
        today = desk.today_of(values)
        latest = today if past else today + timedelta(days=366 * LATEST_YEARS_AHEAD)
        pattern = mark("%(earliest)s to %(latest)s (today)") if past else mark("%(earliest)s to %(latest)s")
        span = say(pattern, earliest=str(EARLIEST), latest=str(latest))
        _check_span(moment.date(), EARLIEST, latest, span)
        return moment.date()

    return Column(field, read, about, required=required, late=True, allowed=_DAY_FORM)


def instant(field: str, about: str, *, required: bool = False, past: bool = True, day_alone: bool = False) -> Column:
    """An instant as an aware UTC datetime; with `past`, not in the future.

    `day_alone` takes a day without a time as its midnight at the site.
    """

    def read(text: str, _unit: str, values: Values, desk: Desk) -> datetime:
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            raise CellError(
                say("it is not a time in ISO 8601"), allowed=_INSTANT_FORM, fix=say("write it that way")
            ) from None
        if len(text) <= _DATE_LENGTH and not day_alone:
            raise CellError(
                say("the time of day is missing"),
                allowed=_INSTANT_FORM,
                fix=say("write %(text)sT09:30, say", text=text),
            )
        latest_day = desk.now.date() + timedelta(days=366 * LATEST_YEARS_AHEAD)
        # Before any change of zone, which overflows at the ends of the calendar.
        span = say("%(earliest)s to %(latest)s", earliest=str(EARLIEST), latest=say("now") if past else str(latest_day))
        _check_span(moment.date(), EARLIEST, latest_day, span)
        if moment.tzinfo is None:
            moment = _at_site(moment, text, desk.zone_of(values))
        moment = moment.astimezone(UTC)
        if past and (moment - desk.now).total_seconds() > FUTURE_ALLOWANCE_S:
            raise CellError(
                say("it lies in the future"),
                allowed=say("up to now, %(now)s UTC", now=f"{desk.now.astimezone(UTC):%Y-%m-%dT%H:%M}"),
                fix=say("check the day, the year and the time zone"),
            )
        return moment

    return Column(
        field,
        read,
        about,
        required=required,
        late=True,
        show=lambda value, _unit: "" if value is None else f"{value.astimezone(UTC):%Y-%m-%dT%H:%M}Z",
        allowed=_INSTANT_FORM,
    )


def _check_span(value: date, earliest: date, latest: date, allowed: str) -> None:
    if not earliest <= value <= latest:
        why = say("it lies before the book can have begun") if value < earliest else say("it lies in the future")
        raise CellError(why, allowed=allowed, fix=say("check the day and the year"))


def _at_site(local: datetime, text: str, zone: zoneinfo.ZoneInfo) -> datetime:
    """A local time as an instant; refused where the clocks skip it or show it twice."""
    first, second = local.replace(tzinfo=zone), local.replace(tzinfo=zone, fold=1)
    before, after = first.utcoffset(), second.utcoffset()
    if before == after:
        return first
    if before is not None and after is not None and before < after:
        moved = first.astimezone(UTC).astimezone(zone)
        raise CellError(
            say("the clocks of %(zone)s skip this time", zone=zone.key),
            allowed=say("a time that the clock showed, or one with its offset"),
            fix=say("write %(moved)s if the clock was not yet put forward", moved=moved.isoformat()),
        )
    raise CellError(
        say("the clocks of %(zone)s show this time twice", zone=zone.key),
        allowed=say("a time with its offset"),
        fix=say(
            "write %(first)s for the first or %(second)s for the second",
            first=first.isoformat(),
            second=second.isoformat(),
        ),
    )
