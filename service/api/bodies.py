"""What is sent and answered. Types are strict: a count is a number, never its digits as text.

What has the wrong shape refuses the whole request; a value that the book refuses, its item alone. So ranges, names
and times are not in the schema: they are answered item by item.
"""

import re
from datetime import date, datetime
from typing import Annotated, Any, Literal

from ninja import Schema
from pydantic import BeforeValidator, ConfigDict, Field

from fleet.ranges import SHOTS, SHOTS_UNCERTAINTY, TEMPERATURE
from service.api.problems import Problem

MOST_ITEMS = 1_000
MOST_ROWS = 200
Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[^\x00]*$")]


def _number(value: Any) -> Any:
    """JSON has one kind of number: 306.0 is the count 306. Its digits as text are no number."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError("Input should be a number")
    return value


def _day(value: Any) -> Any:
    """A day by its digits; the library would take a number of seconds too."""
    if isinstance(value, str) and not re.fullmatch(r"\d{4}-\d{2}-\d{2}", value, re.ASCII):
        raise ValueError("Input should be a day as YYYY-MM-DD")
    return value


# RFC 8259, 6: beyond this, senders and readers of JSON need not agree on a number.
Whole = Annotated[int, Field(ge=-(2**53), le=2**53, strict=False), BeforeValidator(_number)]
Day = Annotated[date, BeforeValidator(_day)]
Time = Annotated[str, Field(max_length=40, description="RFC 3339 with an offset: 2026-05-01T09:30:00+02:00")]
Key = Annotated[
    str,
    Field(pattern=r"^[!-~]{1,40}$", description="The sender's own name of the entry; the same key is the same entry."),
]


class _Sent(Schema):
    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


class ShotsItem(_Sent):
    """Shots of a bow between two instants."""

    key: Key
    bow: Name = Field(description="The bow's tag, at the token's site.")
    start: Time
    end: Time
    count: Whole = Field(description=f"{SHOTS.low:g} to {SHOTS.high:g} {SHOTS.unit}")
    how_known: Literal["counter", "scorecard", "estimated"] = "counter"
    count_sd: float = Field(
        0.0, description=f"Standard deviation, {SHOTS_UNCERTAINTY.low:g} to {SHOTS_UNCERTAINTY.high:g}."
    )


class ShotsBatch(_Sent):
    """Entries of shots; each is taken or refused by itself."""

    items: list[ShotsItem] = Field(min_length=1, max_length=MOST_ITEMS)


class ReadingItem(_Sent):
    """One temperature of a place. A place has one temperature at an instant: the same one again is the same entry."""

    place: Name = Field(description="The place's name, at the token's site.")
    at: Time
    celsius: float = Field(description=f"{TEMPERATURE.low:g} to {TEMPERATURE.high:g} {TEMPERATURE.unit}")


class ReadingsBatch(_Sent):
    """Temperatures; each is taken or refused by itself."""

    items: list[ReadingItem] = Field(min_length=1, max_length=MOST_ITEMS)


class ItemResult(Schema):
    """What became of one item: added, known (it was in the book already) or refused, with the problem."""

    index: int
    status: Literal["added", "known", "refused"]
    problem: Problem | None = None


class BatchResult(Schema):
    """What became of a batch, item by item in the order sent."""

    added: int
    known: int
    refused: int
    items: list[ItemResult]


class Page(Schema):
    """Which part of a long list."""

    limit: int = Field(50, ge=1, le=MOST_ROWS)
    offset: int = Field(0, ge=0, le=1_000_000)


class OrdersPage(Page):
    """Orders of one day, or of every day."""

    day: Day | None = None


class DueCord(Schema):
    """One fitted cord; shares are of rated life, dates those of 10, 50 and 90 %."""

    site: str
    tag: str
    position: str
    cord_spec: str
    serial: str
    fitted_on: date
    life_used: float
    shots: float
    time: float
    heat: float
    replace_from: date | None
    replace_on: date | None
    replace_until: date | None
    basis: str
    reason: str


class DueList(Schema):
    """The due list, the soonest replacement first."""

    total: int
    items: list[DueCord]


class NeedRow(Schema):
    """One thing that a bow needs."""

    kind: str
    reason: str
    due_on: date
    latest_on: date | None
    holds: bool


class BowRow(Schema):
    """One bow and whether it may go out."""

    tag: str
    serial: str
    kind: str
    hand: str
    state: str
    may_go_out: bool
    because: list[str]
    warnings: list[str]


class BowList(Schema):
    """The site's bows by tag, without the retired ones."""

    total: int
    items: list[BowRow]


class BowDetail(BowRow):
    """One bow with its needs and its fitted cords."""

    needs: list[NeedRow]
    cords: list[DueCord]


class OrderRow(Schema):
    """One work order."""

    number: str
    bow: str
    day: date
    status: str
    technician: str | None
    minutes: int
    needs: list[str]
    issued_at: datetime


class OrderList(Schema):
    """Orders, the latest day first."""

    total: int
    items: list[OrderRow]


class JobRow(Schema):
    """One bow on one day at the bench."""

    bow: str
    day: date
    technician: str
    minutes: int
    needs: list[str]
    why: str


class UnplacedRow(Schema):
    """A need without a day, and the limit that blocks it."""

    bow: str
    kind: str
    due_on: date
    limit: str


class PlanNow(Schema):
    """The latest published plan, else the draft; `first_day` is empty where there is neither."""

    first_day: date | None
    days: int
    made_at: datetime | None
    published_at: datetime | None
    jobs: list[JobRow]
    unplaced: list[UnplacedRow]
