"""Bulk verbs: many rows in one transaction, one audit row a batch. Rows may be a stream: they are read once."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import Enum, auto
from itertools import islice
from typing import TypeVar

from django.utils.translation import gettext as _

from fleet.models import Bow, Person, Place, Shots, Stay, TemperatureReading
from fleet.ranges import TEMPERATURE
from fleet.record.heat import check_interval
from fleet.record.insert import insert_many
from fleet.record.intervals import Timeline
from fleet.record.kernel import audit, touch, verb
from fleet.record.usage import check_shots
from fleet.refusal import Refused
from fleet.signals import places_touched
from service.said import figure
from service.wording import moment_here, worded

Row = TypeVar("Row")
BATCH = 2_000
Progress = Callable[[int], None]
# A logger's file written again in another unit or with other decimals holds the same readings.
SAME_READING_C = 1e-6


@dataclass(frozen=True, slots=True)
class ShotsRow:
    """One entry of shots to add."""

    bow: Bow
    start: datetime
    end: datetime
    count: int
    how_known: str
    key: str
    count_sd: float = 0.0


@dataclass(frozen=True, slots=True)
class TemperatureRow:
    """One temperature reading to add (degC)."""

    place: Place
    at: datetime
    celsius: float
    source: str = ""


@dataclass(frozen=True, slots=True)
class StayRow:
    """One stay to add (no end = still there)."""

    bow: Bow
    place: Place
    start: datetime
    end: datetime | None = None


def _batches(rows: Iterable[Row]) -> Iterable[list[Row]]:
    iterator = iter(rows)
    while batch := list(islice(iterator, BATCH)):
        yield batch


@verb
def add_many_shots(
    *, by: Person, rows: Iterable[ShotsRow], source: str, now: datetime, progress: Progress | None = None
) -> int:
    """Add entries of shots whose keys are new; returns how many.

    An entry whose key is in the book already is passed over if it is the same one, and refused if it is another.
    """
    added = 0
    bow_ids: set[int] = set()
    for batch in _batches(rows):
        new = _new_shots(batch)
        for row in new:
            check_shots(row.start, row.end, row.count, row.how_known, now, row.count_sd)
        insert_many(
            Shots,
            ("bow_id", "start", "end", "count", "how_known", "count_sd", "key", "entered_at", "entered_by_id"),
            [(r.bow.pk, r.start, r.end, r.count, r.how_known, r.count_sd, r.key, now, by.pk) for r in new],
        )
        added += len(new)
        if new:
            audit(by, "add_many_shots", None, source=source, count=len(new), shots=sum(r.count for r in new))
            bow_ids |= {row.bow.pk for row in new}
        if progress is not None:
            progress(len(batch))
    if bow_ids:
        touch(bow_ids)
    return added


def _new_shots(batch: list[ShotsRow]) -> list[ShotsRow]:
    there = {
        key: content
        for key, *content in Shots.objects.filter(key__in=[row.key for row in batch]).values_list(
            "key", "bow_id", "start", "end", "count"
        )
    }
    new = []
    for row in batch:
        content = [row.bow.pk, row.start, row.end, row.count]
        if there.setdefault(row.key, content) != content:
            raise Refused(
                _(
                    "key '%(key)s' was used for another entry (%(there)s shots, not %(count)s): "
                    "give a new key, or correct the entry itself."
                )
                % {"key": row.key, "there": there[row.key][3], "count": row.count}
            )
        if there[row.key] is content:
            new.append(row)
    return new


@verb
def add_many_readings(
    *, by: Person, rows: Iterable[TemperatureRow], source: str, progress: Progress | None = None
) -> int:
    """Add temperature readings that are new; returns how many. A different value at a known instant is refused."""
    added = 0
    place_ids: set[int] = set()
    since: datetime | None = None
    for batch in _batches(rows):
        new = _new_readings(batch)
        insert_many(
            TemperatureReading,
            ("place_id", "at", "celsius", "source"),
            [(row.place.pk, row.at, row.celsius, row.source) for row in new],
        )
        added += len(new)
        if new:
            audit(by, "add_many_readings", None, source=source, count=len(new))
            place_ids |= {row.place.pk for row in new}
            earliest = min(row.at for row in new)
            since = earliest if since is None else min(since, earliest)
        if progress is not None:
            progress(len(batch))
    if since is not None:
        places_touched.send(sender=None, place_ids=place_ids, since=since)
    return added


def readings_there(rows: list[TemperatureRow]) -> dict[tuple[int, datetime], float]:
    """What the book has (degC) at the places and instants of these rows."""
    known = TemperatureReading.objects.filter(place__in={row.place.pk for row in rows}, at__in={row.at for row in rows})
    return {(place, at): celsius for place, at, celsius in known.values_list("place_id", "at", "celsius")}


def _new_readings(batch: list[TemperatureRow]) -> list[TemperatureRow]:
    there = readings_there(batch)
    new = []
    for row in batch:
        TEMPERATURE.check(row.celsius)
        known = there.get((row.place.pk, row.at))
        if known is None:
            there[row.place.pk, row.at] = row.celsius
            new.append(row)
        elif abs(known - row.celsius) > SAME_READING_C:
            raise Refused(
                _(
                    "%(place)s at %(at)s already reads %(known)s degC, not %(celsius)s: "
                    "a logger's reading is not overwritten; correct the file."
                )
                % {
                    "place": row.place,
                    "at": moment_here(row.at),
                    "known": worded(figure(known)),
                    "celsius": worded(figure(row.celsius)),
                }
            )
    return new


@verb
def add_many_stays(
    *, by: Person, rows: Iterable[StayRow], source: str, now: datetime, progress: Progress | None = None
) -> int:
    """Add stays, and end open ones whose end a row gives; returns how many were written. None may overlap.

    A stay that the book has already (same bow, place and start, and the same end or none given) is passed over.
    """
    written = 0
    bow_ids: set[int] = set()
    timelines: dict[int, Timeline[int]] = {}
    for batch in _batches(rows):
        _load_timelines(timelines, {row.bow.pk for row in batch})
        added: dict[tuple[int, datetime], StayRow] = {}
        ended: list[StayRow] = []
        for row in batch:
            check_interval(f"{row.bow.tag}: the stay", row.start, row.end, now)
            what = _place_stay(timelines[row.bow.pk], row)
            if what is _Placed.ENDED and (row.bow.pk, row.start) not in added:
                ended.append(row)
            elif what is not _Placed.KNOWN:
                added[row.bow.pk, row.start] = row
        # Ends first: an open stay would seem to overlap the one that follows it.
        for row in ended:
            Stay.objects.filter(bow_id=row.bow.pk, start=row.start, end=None).update(end=row.end)
        insert_many(
            Stay,
            ("bow_id", "place_id", "start", "end"),
            [(row.bow.pk, row.place.pk, row.start, row.end) for row in added.values()],
        )
        written += len(added) + len(ended)
        if added or ended:
            audit(by, "add_many_stays", None, source=source, added=len(added), ended=len(ended))
            bow_ids |= {row.bow.pk for row in (*added.values(), *ended)}
        if progress is not None:
            progress(len(batch))
    if bow_ids:
        touch(bow_ids)
    return written


class _Placed(Enum):
    KNOWN = auto()
    ADDED = auto()
    ENDED = auto()


def _load_timelines(timelines: dict[int, Timeline[int]], bow_ids: set[int]) -> None:
    missing = bow_ids - timelines.keys()
    timelines.update({bow_id: Timeline() for bow_id in missing})
    known = Stay.objects.filter(bow__in=missing).order_by("bow", "start")
    for bow_id, start, end, place_id in known.values_list("bow_id", "start", "end", "place_id"):
        timelines[bow_id].add(start, end, place_id)


def _place_stay(timeline: Timeline[int], row: StayRow) -> _Placed:
    """Put a stay into the bow's timeline, unless it is there already; Refused if it overlaps another."""
    known = timeline.at(row.start)
    if known is not None and known[1] == row.place.pk:
        end = known[0]
        if row.end is None or end == row.end:
            return _Placed.KNOWN
        if end is None:
            timeline.close(row.start, row.end, row.place.pk)
            return _Placed.ENDED
    clash = timeline.clash(row.start, row.end)
    if clash is not None:
        until = moment_here(clash[1]) if clash[1] else "now"
        raise Refused(
            _(
                "%(tag)s was elsewhere from %(clash)s to %(until)s, which overlaps the stay from %(start)s: "
                "end that stay first, or correct the times."
            )
            % {
                "tag": row.bow.tag,
                "clash": moment_here(clash[0]),
                "until": until,
                "start": moment_here(row.start),
            }
        )
    timeline.add(row.start, row.end, row.place.pk)
    return _Placed.ADDED
