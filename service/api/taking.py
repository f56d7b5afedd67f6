"""Batches in: every item is checked by itself, the good ones are recorded by one verb, the others answered."""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any, TypeVar

from fleet import record
from fleet.models import Bow, DeviceToken, Place, Shots
from fleet.ranges import TEMPERATURE
from fleet.record.bulk import SAME_READING_C, readings_there
from fleet.record.kernel import not_in_future
from fleet.record.usage import check_shots
from fleet.refusal import Refused
from service.api.bodies import ReadingItem, ShotsItem
from service.api.problems import of_refusal, problem

Row = TypeVar("Row")
Results = list[dict[str, Any]]
ADDED, KNOWN = {"status": "added"}, {"status": "known"}


def take_shots(token: DeviceToken, items: Sequence[ShotsItem], now: datetime) -> Results:
    """Record entries of shots; one result an item."""
    bows = {bow.tag: bow for bow in Bow.objects.filter(site=token.site, tag__in={item.bow for item in items})}

    def row_of(item: ShotsItem) -> record.ShotsRow:
        bow = bows.get(item.bow)
        if bow is None:
            raise _Unknown(f"There is no bow {item.bow!r} at {token.site}.", item.bow)
        start, end = _instant(item.start), _instant(item.end)
        check_shots(start, end, item.count, item.how_known, now, item.count_sd)
        return record.ShotsRow(bow, start, end, item.count, item.how_known, _own_key(token, item.key), item.count_sd)

    there = Shots.objects.filter(key__in=[_own_key(token, item.key) for item in items])
    known = {key: rest for key, *rest in there.values_list("key", "bow_id", "start", "end", "count")}

    def is_known(row: record.ShotsRow) -> bool:
        content = [row.bow.pk, row.start, row.end, row.count]
        if known.setdefault(row.key, content) != content:
            raise _UsedKey(f"This key names another entry of {known[row.key][3]} shots.")
        return known[row.key] is not content

    return _take(
        items,
        row_of,
        is_known,
        lambda rows: record.add_many_shots(by=token.person, rows=rows, source=_source(token), now=now),
    )


def take_readings(token: DeviceToken, items: Sequence[ReadingItem], now: datetime) -> Results:
    """Record temperatures; one result an item."""
    named = Place.objects.filter(site=token.site, name__in={item.place for item in items})
    places = {place.name: place for place in named}

    def row_of(item: ReadingItem) -> record.TemperatureRow:
        place = places.get(item.place)
        if place is None:
            raise _Unknown(f"There is no place {item.place!r} at {token.site}.", item.place)
        TEMPERATURE.check(item.celsius)
        at = not_in_future("the reading", _instant(item.at), now)
        return record.TemperatureRow(place, at, item.celsius, source=_source(token))

    known: dict[tuple[int, datetime], float] = {}
    rows = [row for row in (_quietly(row_of, item) for item in items) if row is not None]
    known |= readings_there(rows)
    fresh: set[tuple[int, datetime]] = set()

    def is_known(row: record.TemperatureRow) -> bool:
        place = (row.place.pk, row.at)
        if abs(known.setdefault(place, row.celsius) - row.celsius) > SAME_READING_C:
            raise _UsedKey(f"{row.place} has {known[place]:g} degC at that instant already, not {row.celsius:g}.")
        seen = place in fresh or known[place] is not row.celsius
        fresh.add(place)
        return seen

    return _take(
        items,
        row_of,
        is_known,
        lambda good: record.add_many_readings(by=token.person, rows=good, source=_source(token)),
    )


def _take(
    items: Sequence[Any],
    row_of: Callable[[Any], Row],
    is_known: Callable[[Row], bool],
    write: Callable[[list[Row]], object],
) -> Results:
    results: Results = []
    new: list[tuple[int, Row]] = []
    for index, item in enumerate(items):
        try:
            row = row_of(item)
            known = is_known(row)
        except Refused as refusal:
            results.append({"status": "refused", "problem": _problem_of(refusal)})
            continue
        results.append(dict(KNOWN if known else ADDED))
        if not known:
            new.append((index, row))
    _write(new, write, results)
    return [{"index": index, **result} for index, result in enumerate(results)]


def _write(new: list[tuple[int, Row]], write: Callable[[list[Row]], object], results: Results) -> None:
    """All in one transaction; if another sender came between the check and this, one by one."""
    if not new:
        return
    try:
        write([row for _index, row in new])
    except Refused:
        for index, row in new:
            try:
                write([row])
            except Refused as refusal:
                results[index] = {"status": "refused", "problem": _problem_of(refusal)}


class _Unknown(Refused):
    def __init__(self, text: str, value: str) -> None:
        super().__init__(text)
        self.value = value


class _UsedKey(Refused):
    pass


class _NotATime(Refused):
    def __init__(self, value: str) -> None:
        super().__init__(f"{value!r} is no time with an offset.")
        self.value = value


def _problem_of(refusal: Refused) -> dict[str, Any]:
    if isinstance(refusal, _Unknown):
        return problem("not-found", 404, str(refusal), value=refusal.value)
    if isinstance(refusal, _UsedKey):
        return problem("used-key", 409, str(refusal))
    if isinstance(refusal, _NotATime):
        return problem("not-a-time", 422, str(refusal), value=refusal.value, allowed="RFC 3339 with an offset")
    return of_refusal(refusal)


def _quietly(row_of: Callable[[ReadingItem], Row], item: ReadingItem) -> Row | None:
    try:
        return row_of(item)
    except Refused:
        return None


def _instant(text: str) -> datetime:
    try:
        instant = datetime.fromisoformat(text)
        if instant.tzinfo is None:
            raise _NotATime(text)
        return instant.astimezone(UTC)
    except (ValueError, OverflowError) as fault:
        if isinstance(fault, _NotATime):
            raise
        raise _NotATime(text) from fault


def _own_key(token: DeviceToken, key: str) -> str:
    """A sender's key among those of its site: no other site's entry is found or hidden by it."""
    return f"api:{token.site_id}:{key}"


def _source(token: DeviceToken) -> str:
    return token.name[:40]
