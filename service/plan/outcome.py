"""What a plan says of each need: placed, cancelled by another, or unplaced with the limit that blocks it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.said import mark


class Limit(StrEnum):
    """What keeps a need off a day, or out of the plan."""

    WINDOW = mark("no allowed day in the horizon")
    SKILL = mark("nobody with the skill")
    CLOSED = mark("closed days")
    ABSENT = mark("technician absent")
    MINUTES = mark("technician minutes")
    PRESS = mark("presses")
    PART = mark("parts")
    AWAY = mark("bow out")
    TOGETHER = mark("several limits together")
    LEADER = mark("the work it follows is not in the plan")
    NEXT_PLAN = mark("its days run past the horizon")
    CHEAPER = mark("cheaper left for later")
    NOT_FOUND = mark("a place may exist but was not found in the effort allowed")


@dataclass(frozen=True)
class Placement:
    """A need on a day with a technician."""

    need: str
    day: date
    technician: str


@dataclass(frozen=True)
class Cancelled:
    """A need that `by`, placed on `day`, makes pointless."""

    need: str
    by: str
    day: date


@dataclass(frozen=True)
class Unplaced:
    """A need without a day, the limit that blocks it and the sentence that says so in numbers."""

    need: str
    limit: Limit
    sentence: str


@dataclass(frozen=True)
class Moved:
    """A published job that is not where it was published: `day` and `technician` are None when it has no place."""

    need: str
    published_day: date
    published_technician: str
    day: date | None
    technician: str | None
    sentence: str


@dataclass(frozen=True)
class Plan:
    """Each need of the problem is in exactly one of placements, cancelled and unplaced. Sorted, so comparable."""

    placements: tuple[Placement, ...]
    cancelled: tuple[Cancelled, ...]
    unplaced: tuple[Unplaced, ...]
    moved: tuple[Moved, ...]

    def placement_of(self, need: str) -> Placement | None:
        return next((p for p in self.placements if p.need == need), None)

    def on_day(self, day: date) -> Sequence[Placement]:
        return [p for p in self.placements if p.day == day]
