"""Files of stays: where each bow was, from when to when."""

from collections.abc import Iterable
from datetime import datetime

from fleet import record
from fleet.models import Stay
from fleet.record import StayRow
from fleet.record.intervals import Timeline
from service.intake.changes import Difference, Status
from service.intake.desk import Desk
from service.intake.kind import Sifted, StreamedKind
from service.intake.problems import CellError
from service.intake.rows import Report, Row
from service.intake.times import instant
from service.intake.words import bow_column, place_column, site_column
from service.said import say

COLUMNS = (
    bow_column(),
    site_column(),
    place_column(),
    instant("start", say("when it begins"), required=True),
    instant("end", say("when it ends; empty = still there")),
)
IN_BOOK = 0  # the line of a stay that was in the book before the file
Where = tuple[int, str, int]  # place, its name, line


class _Sieve:
    """Stays of a bow never overlap, in the file or with the book. Stays are told apart by bow, place and start.

    A line that gives the end of a stay still open in the book ends it. A line without an end, for a stay that the
    book has ended since, changes nothing: the book knows more.
    """

    def __init__(self, _desk: Desk, report: Report) -> None:
        self._report = report
        self._timelines: dict[int, Timeline[Where]] = {}

    def sift(self, rows: list[Row]) -> list[Sifted]:
        self._load({row["tag"].pk for row in rows})
        sifted = []
        # In order of time, so that the end of an open stay is seen before the stay that follows it.
        for row in sorted(rows, key=lambda one: (one["tag"].pk, one["start"])):
            try:
                sifted.append(self._sifted(row))
            except CellError as fault:
                self._report(row.problem(fault))
        return sifted

    def finish(self) -> set[int]:
        """Nothing waits for the end of the file."""
        return set()

    def _load(self, bow_ids: set[int]) -> None:
        missing = bow_ids - self._timelines.keys()
        self._timelines.update({bow_id: Timeline() for bow_id in missing})
        known = Stay.objects.filter(bow__in=missing).values_list("bow_id", "start", "end", "place_id", "place__name")
        for bow_id, start, end, place_id, name in known.order_by("bow", "start"):
            self._timelines[bow_id].add(start, end, (place_id, name, IN_BOOK))

    def _sifted(self, row: Row) -> Sifted:
        bow, place, start, end = row["tag"], row["place"], row["start"], row.get("end")
        if end is not None and end <= start:
            raise CellError(
                say("it does not end after its begin"),
                allowed=say("after the start"),
                fix=say("swap or correct them"),
                column="end",
            )
        timeline, where = self._timelines[bow.pk], (place.pk, place.name, row.line)
        stay = StayRow(bow, place, start, end)
        known = timeline.at(start)
        if known is not None and known[1][0] == place.pk and known[1][2] == IN_BOOK:
            if end is None or known[0] == end:
                return Sifted(row, bow.tag, Status.UNCHANGED)
            if known[0] is None:
                timeline.close(start, end, where)
                shown = Difference(row.layout.header_of("end"), "", f"{end:%Y-%m-%dT%H:%M}Z")
                return Sifted(row, bow.tag, Status.CHANGED, stay, (shown,))
        if clash := timeline.clash(start, end):
            raise _overlap(clash)
        timeline.add(start, end, where)
        return Sifted(row, bow.tag, Status.NEW, stay)


def _overlap(clash: tuple[datetime, datetime | None, Where]) -> CellError:
    begin, end, (_, name, line) = clash
    until = f"{end:%Y-%m-%dT%H:%M}Z" if end else say("now")
    where = say("line %(line)d", line=line) if line else say("the book")
    return CellError(
        say(
            "%(where)s has the bow at %(name)s from %(begin)sZ to %(until)s, which overlaps it",
            where=where,
            name=name,
            begin=f"{begin:%Y-%m-%dT%H:%M}",
            until=until,
        ),
        allowed=say(
            "up to %(begin)sZ, or from %(until)s on",
            begin=f"{begin:%Y-%m-%dT%H:%M}",
            until=until if end else say("the end of that stay"),
        ),
        fix=say("end that stay first, or correct the times"),
        column="start",
    )


def _write(desk: Desk, rows: Iterable[StayRow], source: str) -> int:
    return record.add_many_stays(by=desk.by, rows=rows, source=source, now=desk.now)


STAYS = StreamedKind("stays", say("where each bow was, from when to when"), COLUMNS, _Sieve, _write)
