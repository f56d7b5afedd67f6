"""Where each bow was, moment by moment: stays, parkings and slack cut into pieces in which nothing changes.

All marks (start and end of every stay, parking, slack stretch and cord window) are put in order of bow and time once;
running sums of the marks then tell, for every piece between two marks, which row was in force.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.wear.arrays import Flags, Floats, Ints, bow_time_order
from service.wear.rows import FleetRows, ParkingRows, SlackRows, StayRows
from service.wear.shot_exposure import Windows


@dataclass(frozen=True, eq=False)
class Timeline:
    """Pieces during which at least one cord's window is open, by bow and time.

    Cord c has the pieces [first[c], last[c]).
    """

    start_s: Floats
    end_s: Floats
    place: Ints
    """The stay's place, or the bow's default place."""
    parking: Ints
    """Row of the parking in force, -1 where none: it goes before the place."""
    is_slack: Flags
    first: Ints
    last: Ints


def timeline(rows: FleetRows, windows: Windows, now_s: float) -> Timeline:
    """Cut the bows' time into pieces over the cords' windows.

    Raises ValueError where stays or parkings of one bow overlap.
    """
    spans = [
        _Span.of(rows.stays, now_s),
        _Span.of(rows.parkings, now_s),
        _Span.of(rows.slacks, now_s),
        _Span(rows.cords.bow, windows.start_s, np.maximum(windows.end_s, windows.start_s)),
    ]
    bow = np.concatenate([part for span in spans for part in (span.bow, span.bow)])
    time = np.concatenate([part for span in spans for part in (span.start_s, span.end_s)])
    order = bow_time_order(bow, time)
    bow, time = bow[order], time[order]
    position = np.empty(order.size, dtype=np.int64)
    position[order] = np.arange(order.size)

    has_length = np.zeros(order.size, dtype=np.bool_)
    has_length[:-1] = (bow[1:] == bow[:-1]) & (time[1:] > time[:-1])
    offsets = np.cumsum([0] + [2 * span.bow.size for span in spans])
    stay_depth, stay = _in_force(position, int(offsets[0]), spans[0].bow.size)
    parking_depth, parking = _in_force(position, int(offsets[1]), spans[1].bow.size)
    slack_depth, _ = _in_force(position, int(offsets[2]), spans[2].bow.size)
    cord_depth, _ = _in_force(position, int(offsets[3]), spans[3].bow.size)
    for what, depth in (("stays", stay_depth), ("parkings", parking_depth)):
        _refuse_overlap(what, has_length & (depth > 1), bow, time)

    wanted = np.flatnonzero(has_length & (cord_depth > 0))
    kept_before = np.concatenate([[0], np.cumsum(has_length & (cord_depth > 0))])
    cord_marks = position[offsets[3] :]
    cords = rows.cords.bow.size
    default = rows.default_place[bow[wanted]]
    at_stay = stay[wanted]
    place = default if rows.stays.bow.size == 0 else np.where(at_stay >= 0, rows.stays.place[at_stay], default)
    return Timeline(
        time[wanted],
        time[wanted + 1],
        place,
        parking[wanted],
        slack_depth[wanted] > 0,
        kept_before[cord_marks[:cords]],
        np.maximum(kept_before[cord_marks[cords:]], kept_before[cord_marks[:cords]]),
    )


@dataclass(frozen=True, eq=False)
class _Span:
    """Rows of one kind as closed stretches of time."""

    bow: Ints
    start_s: Floats
    end_s: Floats

    @classmethod
    def of(cls, rows: StayRows | ParkingRows | SlackRows, now_s: float) -> _Span:
        """An open end reaches to now; a row that begins later has no length yet."""
        end = np.where(np.isnan(rows.end_s), np.maximum(rows.start_s, now_s), rows.end_s)
        return cls(rows.bow, rows.start_s, end)


def _in_force(position: Ints, offset: int, count: int) -> tuple[Ints, Ints]:
    """After each mark: how many rows of one kind are in force, and the row (-1: none; valid while at most one is)."""
    change = np.zeros(position.size, dtype=np.int64)
    carried = np.zeros(position.size, dtype=np.int64)
    starts, ends = position[offset : offset + count], position[offset + count : offset + 2 * count]
    change[starts] = 1
    change[ends] = -1
    row_number = np.arange(1, count + 1, dtype=np.int64)
    carried[starts] = row_number
    carried[ends] = -row_number
    return np.cumsum(change), np.cumsum(carried) - 1


def _refuse_overlap(what: str, overlapping: Flags, bow: Ints, time: Floats) -> None:
    if np.any(overlapping):
        at = int(np.argmax(overlapping))
        raise ValueError(
            f"bow {int(bow[at])}: two {what} overlap between {time[at]:.0f} and {time[at + 1]:.0f} s (epoch); "
            "a bow is in one place at a time: end the earlier one first"
        )
