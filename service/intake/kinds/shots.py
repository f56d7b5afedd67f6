"""Files of shots, by the 100,000."""

from collections import Counter
from collections.abc import Iterable
from datetime import datetime

from django.db.models import Max

from fleet import record
from fleet.models import Shots
from fleet.ranges import SHOTS, SHOTS_UNCERTAINTY
from fleet.record import ShotsRow
from fleet.vocabulary import HowKnown
from service.intake.changes import Status
from service.intake.desk import Desk
from service.intake.keys import KEY_COLUMN, content_key, digest, occurrence_of
from service.intake.kind import Sifted, StreamedKind
from service.intake.numbers import number, whole
from service.intake.problems import CellError
from service.intake.rows import Report, Row
from service.intake.times import instant
from service.intake.words import bow_column, choice, site_column
from service.said import say

COLUMNS = (
    bow_column(),
    site_column(),
    whole("shots", SHOTS, say("shots between the two times"), required=True),
    choice("how_known", dict(HowKnown.choices), say("how the count is known"), required=True),
    number("shots_sd", SHOTS_UNCERTAINTY, say("standard deviation of the count")),
    KEY_COLUMN,
    instant("start", say("when it begins"), required=True),
    instant("end", say("when it ends"), required=True),
)
Entry = tuple[int, datetime, datetime, int]  # bow, start, end, count
Interval = tuple[int, datetime, datetime]


class _Sieve:
    """Keys of a file against the book's: see `service.intake.keys`.

    A new line without a key of its own, for the very interval for which the book holds another entry of that bow,
    is refused: it is far more often a corrected count than a second session, and would be counted twice.
    """

    def __init__(self, desk: Desk, report: Report) -> None:
        self._report = report
        self._occurrences: Counter[bytes] = Counter()
        self._own_keys: dict[str, int] = {}
        self._suspects: list[tuple[Row, str, int]] = []
        # Entries up to this one were in the book before the file; later ones are the file's own.
        self._last_before: int = Shots.objects.aggregate(last=Max("pk"))["last"] or 0

    def sift(self, rows: list[Row]) -> list[Sifted]:
        keyed = [(row, self._key(row)) for row in rows if self._in_order(row) and self._key_once(row)]
        there = self._entries_with([key for _, key in keyed])
        new: list[tuple[Row, str]] = []
        sifted: list[Sifted] = []
        for row, key in keyed:
            known = there.get(key)
            if known is None:
                new.append((row, key))
            elif known == _entry(row):
                sifted.append(Sifted(row, row["tag"].tag, Status.UNCHANGED))
            else:
                self._report(row.problem(_other_entry(known)))
        self._note_suspects(new)
        sifted += [Sifted(row, row["tag"].tag, Status.NEW, _shots_row(row, key)) for row, key in new]
        return sifted

    def finish(self) -> set[int]:
        """Report the suspects whose rival entry is not itself a line of this file."""
        bad = set()
        for row, key, count in self._suspects:
            made = occurrence_of(key)
            if key in self._own_keys or (made is not None and self._occurrences[made[0]] >= made[1]):
                continue
            self._report(row.problem(_counted_twice(count)))
            bad.add(row.line)
        return bad

    def _in_order(self, row: Row) -> bool:
        if row["end"] >= row["start"]:
            return True
        self._report(
            row.problem(
                CellError(
                    say("it ends before it begins"),
                    allowed=say("the start or later"),
                    fix=say("swap them"),
                    column="end",
                )
            )
        )
        return False

    def _key_once(self, row: Row) -> bool:
        key = row.get("key")
        first = self._own_keys.setdefault(key, row.line) if key else row.line
        if first == row.line:
            return True
        fault = CellError(
            say("line %(first)s has the same key", first=first),
            allowed=say("each key once"),
            fix=say("give it another"),
            column="key",
        )
        self._report(row.problem(fault))
        return False

    def _key(self, row: Row) -> str:
        if "key" in row.values:
            return str(row["key"])
        content = digest(
            "shots", row["tag"].tag, row["start"].isoformat(), row["end"].isoformat(), row["shots"], row["how_known"]
        )
        self._occurrences[content] += 1
        return content_key(content, self._occurrences[content])

    def _entries_with(self, keys: list[str]) -> dict[str, Entry]:
        if not self._last_before:
            return {}
        # Keys that this file itself has just written are not "there": it names each key once.
        found = Shots.objects.filter(key__in=keys, pk__lte=self._last_before)
        entries = found.values_list("key", "bow_id", "start", "end", "count")
        return {key: (bow_id, start, end, count) for key, bow_id, start, end, count in entries}

    def _note_suspects(self, new: list[tuple[Row, str]]) -> None:
        derived = [row for row, key in new if "key" not in row.values]
        if not derived or not self._last_before:
            return
        starts = [row["start"] for row in derived]
        rivals: dict[Interval, tuple[str, int]] = {}
        found = Shots.objects.filter(
            bow__in={row["tag"].pk for row in derived},
            start__gte=min(starts),
            start__lte=max(starts),
            superseded_at=None,
            pk__lte=self._last_before,
        )
        for key, bow_id, start, end, count in found.values_list("key", "bow_id", "start", "end", "count"):
            rivals[bow_id, start, end] = key, count
        for row in derived:
            rival = rivals.get((row["tag"].pk, row["start"], row["end"]))
            if rival is not None:
                self._suspects.append((row, *rival))


def _entry(row: Row) -> Entry:
    return row["tag"].pk, row["start"], row["end"], row["shots"]


def _other_entry(known: Entry) -> CellError:
    return CellError(
        say(
            "the book has this key for another entry (%(shots)s shots from %(start)sZ)",
            shots=known[3],
            start=f"{known[1]:%Y-%m-%dT%H:%M}",
        ),
        allowed=say("a key of its own"),
        fix=say("give a new key, or correct the entry itself in the book"),
        column="key",
    )


def _counted_twice(count: int) -> CellError:
    return CellError(
        say("the book has %(count)s shots of this bow for this very time already, under another entry", count=count),
        allowed=say("each session once"),
        fix=say(
            "if the count was wrong, correct that entry in the book; if this is a further session, "
            "give the line a key of its own in a 'key' column"
        ),
        column="shots",
    )


def _shots_row(row: Row, key: str) -> ShotsRow:
    return ShotsRow(
        bow=row["tag"],
        start=row["start"],
        end=row["end"],
        count=row["shots"],
        how_known=row["how_known"],
        key=key,
        count_sd=row.get("shots_sd", 0.0),
    )


def _write(desk: Desk, rows: Iterable[ShotsRow], source: str) -> int:
    return record.add_many_shots(by=desk.by, rows=rows, source=source, now=desk.now)


SHOTS_KIND = StreamedKind("shots", say("shots of bows between two times"), COLUMNS, _Sieve, _write)
