"""Files of temperature readings, as loggers write them."""

from collections.abc import Iterable
from datetime import datetime

from fleet import record
from fleet.ranges import TEMPERATURE
from fleet.record import TemperatureRow
from fleet.record.bulk import SAME_READING_C, readings_there
from service.intake.changes import Status
from service.intake.desk import Desk
from service.intake.kind import Sifted, StreamedKind
from service.intake.numbers import quantity
from service.intake.problems import CellError
from service.intake.rows import Report, Row
from service.intake.times import instant
from service.intake.words import place_column, site_column, text
from service.said import say
from service.units import Dimension

COLUMNS = (
    site_column(),
    place_column(),
    quantity("temperature", TEMPERATURE, Dimension.TEMPERATURE, say("temperature at the place"), required=True),
    text("source", 40, say("which logger")),
    instant("at", say("when it was read"), required=True),
)


class _Sieve:
    """One reading a place and instant: the same value again is no change, another one is a contradiction."""

    def __init__(self, _desk: Desk, report: Report) -> None:
        self._report = report
        self._lines: dict[tuple[int, datetime], tuple[float, int]] = {}

    def sift(self, rows: list[Row]) -> list[Sifted]:
        readings = [TemperatureRow(row["place"], row["at"], row["temperature"], row.get("source", "")) for row in rows]
        there = readings_there(readings)
        sifted: list[Sifted] = []
        for row, reading in zip(rows, readings, strict=True):
            spot = (reading.place.pk, reading.at)
            in_file = self._lines.setdefault(spot, (reading.celsius, row.line))
            known = in_file[0] if in_file[1] != row.line else there.get(spot)
            if known is not None and abs(known - reading.celsius) > SAME_READING_C:
                self._report(row.problem(_contradicts(known, in_file[1] if in_file[1] != row.line else None)))
            elif known is not None:
                sifted.append(Sifted(row, reading.place.name, Status.UNCHANGED))
            else:
                sifted.append(Sifted(row, reading.place.name, Status.NEW, reading))
        return sifted

    def finish(self) -> set[int]:
        """Nothing waits for the end of the file."""
        return set()


def _contradicts(known: float, line: int | None) -> CellError:
    who = say("line %(line)d", line=line) if line else say("the book")
    return CellError(
        say("%(who)s has %(known)s °C at this place and time", who=who, known=f"{known:g}"),
        allowed=say("%(known)s °C, or another time", known=f"{known:g}"),
        fix=say("take the wrong one out; a reading in the book is not overwritten"),
        column="temperature",
    )


def _write(desk: Desk, rows: Iterable[TemperatureRow], source: str) -> int:
    return record.add_many_readings(by=desk.by, rows=rows, source=source)


TEMPERATURES = StreamedKind("temperatures", say("temperature readings of places"), COLUMNS, _Sieve, _write)
