"""What happened in the demo's season, to be written in the order in which it happened."""

from collections.abc import Callable
from datetime import datetime


class Diary:
    """Acts with their instants; acts of one instant keep the order in which they were noted."""

    def __init__(self, now: datetime) -> None:
        self.now = now
        self._acts: list[tuple[datetime, Callable[[], object]]] = []

    def note(self, at: datetime, act: Callable[[], object]) -> None:
        """Note an act; one that lies after `now` has not happened and is left out."""
        if at <= self.now:
            self._acts.append((at, act))

    def write(self) -> None:
        """Do every act, first to last."""
        for _, act in sorted(self._acts, key=lambda entry: entry[0]):
            act()
        self._acts.clear()
