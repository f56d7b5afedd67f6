"""Instants between the database and the calculations: whole epoch seconds (UTC), by one rule on both engines.

A part of a second never matters to wear, and one rule for all keeps an incremental update equal to a full rebuild.
"""

import math
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import FloatField, Func

SECONDS_PER_DAY = 86_400.0


class EpochSeconds(Func):
    """An instant column as whole epoch seconds, NULL staying NULL."""

    output_field = FloatField()
    template = "FLOOR(EXTRACT(EPOCH FROM %(expressions)s))::double precision"

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """SQLite stores instants as text in UTC; reading a part of a second it would round .9995 up."""
        whole = "CAST(STRFTIME('%%%%s', SUBSTR(%(expressions)s, 1, 19)) AS REAL)"
        return self.as_sql(compiler, connection, template=whole, **context)


def epoch_s(moment: datetime | None) -> float:
    """Whole epoch seconds of an aware instant; nan for none."""
    return math.nan if moment is None else math.floor(moment.timestamp())


def start_of(day: date, zone: str) -> datetime:
    """The first instant of a day in a time zone."""
    return datetime.combine(day, time.min, tzinfo=ZoneInfo(zone)).astimezone(UTC)


def end_of(day: date, zone: str) -> datetime:
    """The first instant after a day in a time zone."""
    return start_of(day + timedelta(days=1), zone)


def day_of(moment: datetime, zone: str) -> date:
    """The calendar day of an instant in a time zone."""
    return moment.astimezone(ZoneInfo(zone)).date()


def last_day_until(end: datetime, zone: str) -> date:
    """The last day that something takes; what ends at midnight does not take the day that begins there."""
    return day_of(end - timedelta(microseconds=1), zone)
