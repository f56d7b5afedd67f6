"""The clock that sends what is due, on a machine whose own clock may be set.

Set forward, everything is due and is sent. Set back by a day, the library would wait until the day is made up: what
was last sent "tomorrow" counts as sent until then, and bows would not be computed nor lost tasks looked for.
"""

from typing import Any

from celery.beat import PersistentScheduler


class SteadyScheduler(PersistentScheduler):
    """Counts from now on wherever it is said to have sent something later than now."""

    def tick(self, *args: Any, **kwargs: Any) -> float:
        """One round; returns the seconds to the next."""
        now = self.app.now()
        ahead = [entry for entry in self.schedule.values() if entry.last_run_at > now]
        for entry in ahead:
            entry.last_run_at = now
        if ahead:
            self._heap = None  # its instants are of the other clock
        waited: float = super().tick(*args, **kwargs)
        return waited
