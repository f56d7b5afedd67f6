"""What the demo's chapters share: the two sites, the makes, the season's days, and each bow with its story so far."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fleet.models import Bow, Person
from service.demo.makes import Make
from service.demo.roster import BowPlan
from service.demo.sets import CordSet
from service.demo.sites import Crew
from service.demo.use import Session
from service.demo.weather import SEASON_DAYS


@dataclass(frozen=True)
class Shop:
    """The demo as it is being written; `now` is the instant on which it is loaded."""

    now: datetime
    owner: Person
    crews: dict[str, Crew]
    makes: dict[str, Make]

    def crew_of(self, plan: BowPlan) -> Crew:
        """The crew of a bow's site."""
        return self.crews[plan.site_code]

    def day(self, crew: Crew, number: int) -> date:
        """The calendar day of a day of the season; day SEASON_DAYS is today."""
        return crew.today(self.now) - timedelta(days=SEASON_DAYS - number)

    def at(self, crew: Crew, number: int, hour: int, minute: int = 0) -> datetime:
        """An instant of a day of the season by the site's clock."""
        return datetime.combine(self.day(crew, number), time(hour, minute), tzinfo=crew.zone)

    def begin(self, crew: Crew) -> datetime:
        """The first instant of the season."""
        return self.at(crew, 0, 0).astimezone(UTC)

    def bench_days(self, crew: Crew) -> NDArray[np.bool_]:
        """For each day of the season, whether a technician is at the bench; today's work is not done yet."""
        worked = [self.day(crew, number).weekday() in crew.bench_weekdays for number in range(SEASON_DAYS)]
        return np.array([*worked, False])


@dataclass
class BowStory:
    """One bow with its sessions and its sets of cords, first to last.

    `target` is the share of rated life that the present cords are meant to show; `last_day` the last day of use.
    """

    plan: BowPlan
    make: Make
    crew: Crew
    bow: Bow
    sessions: list[Session]
    target: float
    last_day: int
    sets: list[CordSet] = field(default_factory=list)

    @property
    def positions(self) -> tuple[str, ...]:
        """The positions of its cords."""
        return tuple(self.make.cord_specs)

    def shots_between(self, first_day: int, end_day: int) -> int:
        """Shots from the morning of a day to the morning of another."""
        return int(self._shots_before[end_day] - self._shots_before[first_day])

    @cached_property
    def _shots_before(self) -> NDArray[np.int64]:
        """Shots of the season before the morning of each of its days."""
        by_day = np.zeros(SEASON_DAYS + 2, dtype=np.int64)
        for session in self.sessions:
            by_day[session.day + 1] += session.shots
        return np.cumsum(by_day)
