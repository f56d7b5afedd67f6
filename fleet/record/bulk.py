"""Bulk verbs: many rows in one transaction, one audit row a batch. The rows were checked one by one before."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import TypeVar

from fleet.models import Bow, Person, Place, Shots, TemperatureReading
from fleet.ranges import TEMPERATURE
from fleet.record.kernel import audit, touch, verb
from fleet.record.usage import check_shots
from fleet.refusal import Refused
from fleet.signals import places_touched

Row = TypeVar("Row")
BATCH = 2_000
Progress = Callable[[int], None]


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


def _batches(rows: Sequence[Row]) -> Iterable[list[Row]]:
    iterator = iter(rows)
    while batch := list(islice(iterator, BATCH)):
        yield batch


@verb
def add_many_shots(
    *, by: Person, rows: Sequence[ShotsRow], source: str, now: datetime, progress: Progress | None = None
) -> int:
    """Add entries of shots whose keys are new; returns how many. Keys already in the book are passed over."""
    added = 0
    for batch in _batches(rows):
        there = set(Shots.objects.filter(key__in=[row.key for row in batch]).values_list("key", flat=True))
        new = [row for row in batch if row.key not in there]
        for row in new:
            check_shots(row.start, row.end, row.count, row.how_known, now)
        Shots.objects.bulk_create(
            Shots(
                bow=row.bow,
                start=row.start,
                end=row.end,
                count=row.count,
                how_known=row.how_known,
                count_sd=row.count_sd,
                key=row.key,
                entered_at=now,
                entered_by=by,
            )
            for row in new
        )
        added += len(new)
        if new:
            bow_ids = {row.bow.pk for row in new}
            audit(by, "add_many_shots", None, source=source, count=len(new), shots=sum(r.count for r in new))
            touch(bow_ids)
        if progress is not None:
            progress(len(batch))
    return added


@verb
def add_many_readings(
    *, by: Person, rows: Sequence[TemperatureRow], source: str, progress: Progress | None = None
) -> int:
    """Add temperature readings that are new; returns how many. A different value at a known instant is refused."""
    added = 0
    for batch in _batches(sorted(rows, key=lambda row: (row.place.pk, row.at))):
        there = _readings_there(batch)
        new = [row for row in batch if (row.place.pk, row.at) not in there]
        for row in batch:
            TEMPERATURE.check(row.celsius)
            known = there.get((row.place.pk, row.at), row.celsius)
            if known != row.celsius:
                raise Refused(
                    f"{row.place} at {row.at:%Y-%m-%d %H:%M} UTC already reads {known:g} degC, not {row.celsius:g}: "
                    "a logger's reading is not overwritten; correct the file."
                )
        TemperatureReading.objects.bulk_create(
            TemperatureReading(place=row.place, at=row.at, celsius=row.celsius, source=row.source) for row in new
        )
        added += len(new)
        if new:
            audit(by, "add_many_readings", None, source=source, count=len(new))
            places_touched.send(sender=None, place_ids={row.place.pk for row in new}, since=min(row.at for row in new))
        if progress is not None:
            progress(len(batch))
    return added


def _readings_there(batch: list[TemperatureRow]) -> dict[tuple[int, datetime], float]:
    places = {row.place.pk for row in batch}
    known = TemperatureReading.objects.filter(
        place__in=places, at__gte=min(row.at for row in batch), at__lte=max(row.at for row in batch)
    )
    return {(place, at): celsius for place, at, celsius in known.values_list("place_id", "at", "celsius")}
