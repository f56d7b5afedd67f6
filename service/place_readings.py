"""A logger's readings: all of a place, or those that stretches of time at some places need.

A bow hangs at many places, and at each for a few days: what its stays need is a small part of what those places have,
and one query whatever their number.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
from django.db.models import BigIntegerField, Func, Q, QuerySet

from fleet.models import Place, TemperatureReading
from service.columns import columns
from service.instants import SECONDS_PER_DAY
from service.wear.arrays import Floats

BILLIONTHS = 1e9
# A reading further away than any bridged gap says nothing of a stretch; `max_bridged_gap` is half a day at most.
REACH_S = SECONDS_PER_DAY
# In one query: SQLite compares a row with all of them in one expression, whose depth it limits to 1,000.
MOST_AT_ONCE = 200

Readings = tuple[Floats, Floats]
"""Instants (epoch s) and degC, of equal length, in any order."""
NO_READINGS: Readings = (np.empty(0), np.empty(0))


@dataclass(frozen=True, order=True)
class Stretch:
    """Time at a place, from one instant to another (epoch s; nan: it has not ended)."""

    place_id: int
    start_s: float
    end_s: float


class Billionths(Func):
    """A number column as whole billionths of its unit."""

    output_field = BigIntegerField()
    template = "ROUND(%(expressions)s * 1e9)::bigint"

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """SQLite has no `::`, and its cast cuts off: the rounding comes first on both."""
        return self.as_sql(compiler, connection, template="CAST(ROUND(%(expressions)s * 1e9) AS INTEGER)", **context)


def readings_of(place: Place, since_s: float | None = None) -> Readings:
    """Every reading of a place; `since_s`: those that heat from this instant on needs."""
    rows = TemperatureReading.objects.filter(place=place)
    if since_s is not None:
        rows = rows.filter(at__gte=datetime.fromtimestamp(since_s - REACH_S, UTC))
    billionths, times = columns(_scaled(rows), "billionths", at="at")
    return times, billionths / BILLIONTHS


def readings_for(stretches: Iterable[Stretch]) -> dict[int, Readings]:
    """The readings that the heat of these stretches needs, by place; a place without any is left out.

    What lies between the stretches of a place is not read: its heat is right within them and nowhere else.
    """
    wanted = merged(stretches)
    parts = [_read(_any_of(wanted[first : first + MOST_AT_ONCE])) for first in range(0, len(wanted), MOST_AT_ONCE)]
    if not parts:
        return {}
    place, billionths, times = (np.concatenate(column) for column in zip(*parts, strict=True))
    order = np.argsort(place, kind="stable")
    ids, firsts = np.unique(place[order], return_index=True)
    celsius = np.split(billionths[order] / BILLIONTHS, firsts[1:])
    found = zip(np.split(times[order], firsts[1:]), celsius, strict=True)
    return dict(zip(ids.astype(np.int64).tolist(), found, strict=False))


def merged(stretches: Iterable[Stretch]) -> list[Stretch]:
    """The stretches, those of a place joined that would read some readings twice."""
    joined: list[Stretch] = []
    for one in sorted(Stretch(one.place_id, one.start_s, np.nan_to_num(one.end_s, nan=np.inf)) for one in stretches):
        last = joined[-1] if joined else None
        if last is not None and last.place_id == one.place_id and one.start_s - last.end_s <= 2 * REACH_S:
            joined[-1] = Stretch(last.place_id, last.start_s, max(last.end_s, one.end_s))
        else:
            joined.append(one)
    return joined


def _any_of(stretches: Collection[Stretch]) -> Q:
    wanted = Q()
    for one in stretches:
        within = Q(place=one.place_id, at__gte=datetime.fromtimestamp(one.start_s - REACH_S, UTC))
        if np.isfinite(one.end_s):
            within &= Q(at__lte=datetime.fromtimestamp(one.end_s + REACH_S, UTC))
        wanted |= within
    return wanted


def _read(wanted: Q) -> list[Floats]:
    """Place, billionths of a degree and instant of each reading."""
    return columns(_scaled(TemperatureReading.objects.filter(wanted)), "place_id", "billionths", at="at")


def _scaled(rows: QuerySet[TemperatureReading]) -> QuerySet[Any]:
    # As whole billionths of a degree: the database writes them out, and they are read, twice as fast as fractions.
    return rows.annotate(billionths=Billionths("celsius"))
