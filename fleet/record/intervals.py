"""Intervals of one bow that never overlap, held in order, for verbs that add many at once."""

from bisect import bisect_right
from datetime import datetime
from typing import Generic, TypeVar

Label = TypeVar("Label")


class Timeline(Generic[Label]):
    """Half-open intervals start..end (no end = still open) that share no time, each with a label."""

    def __init__(self) -> None:
        self._starts: list[datetime] = []
        self._ends: list[datetime | None] = []
        self._labels: list[Label] = []

    def at(self, start: datetime) -> tuple[datetime | None, Label] | None:
        """The end and label of the interval that begins at exactly this instant."""
        place = bisect_right(self._starts, start) - 1
        if place >= 0 and self._starts[place] == start:
            return self._ends[place], self._labels[place]
        return None

    def clash(self, start: datetime, end: datetime | None) -> tuple[datetime, datetime | None, Label] | None:
        """An interval that shares time with start..end, if any."""
        after = bisect_right(self._starts, start)
        if after:
            before_ends = self._ends[after - 1]
            if before_ends is None or before_ends > start:
                return self._starts[after - 1], before_ends, self._labels[after - 1]
        if after < len(self._starts) and (end is None or self._starts[after] < end):
            return self._starts[after], self._ends[after], self._labels[after]
        return None

    def add(self, start: datetime, end: datetime | None, label: Label) -> None:
        """Put an interval in; the caller has found no clash."""
        place = bisect_right(self._starts, start)
        self._starts.insert(place, start)
        self._ends.insert(place, end)
        self._labels.insert(place, label)

    def close(self, start: datetime, end: datetime, label: Label) -> None:
        """Give the open interval that begins at `start` its end."""
        place = bisect_right(self._starts, start) - 1
        self._ends[place] = end
        self._labels[place] = label
