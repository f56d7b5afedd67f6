"""The due list: every fitted cord with life used, its shares, its date and the reason."""

from dataclasses import asdict, dataclass
from datetime import date, timedelta
from enum import StrEnum

from django.db.models import Count, F, Q, QuerySet

from fleet.models import Site
from fleet.vocabulary import Position
from service.instants import day_of
from service.models import CordWear

SOON_DAYS = 14


class When(StrEnum):
    """Which cords are wanted: past their replacement point or date, or due soon."""

    PAST = "past"
    SOON = "soon"


@dataclass(frozen=True)
class DueRow:
    """One fitted cord. Life shares are of rated life and add up to `life_used`; dates are those of 10, 50, 90 %."""

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

    def as_record(self) -> dict[str, object]:
        """The row as plain values."""
        return {key: value.isoformat() if isinstance(value, date) else value for key, value in asdict(self).items()}


@dataclass(frozen=True)
class DueCounts:
    """How many cords of a list are to be replaced now, within SOON_DAYS, and in all."""

    past: int
    soon: int
    all: int


def wears_in_order(site: Site | None = None) -> "QuerySet[CordWear]":
    """Wear of every fitted cord of bows in service, the soonest replacement first."""
    wears = CordWear.objects.select_related("fitting__bow__site", "fitting__bow__spec_sheet", "fitting__cord__spec")
    wears = wears.filter(fitting__removed_at=None, fitting__bow__retirement=None)
    if site is not None:
        wears = wears.filter(fitting__bow__site=site)
    return wears.order_by(F("replace_on").asc(nulls_last=True), "-life_used", "fitting__bow__tag", "fitting__position")


def found_by(wears: "QuerySet[CordWear]", text: str = "", position: str = "") -> "QuerySet[CordWear]":
    """Those whose bow's tag, cord's serial or lot holds the text, at a position; empty means any."""
    if text:
        wears = wears.filter(
            Q(fitting__bow__tag__icontains=text)
            | Q(fitting__cord__serial__icontains=text)
            | Q(fitting__cord__lot__iexact=text)
        )
    return wears.filter(fitting__position=position) if position in Position.values else wears


def due_when(wears: "QuerySet[CordWear]", when: str, today: date) -> "QuerySet[CordWear]":
    """Those that are to be replaced now, or within SOON_DAYS; any other word means all."""
    if when == When.PAST:
        return wears.filter(_past(today))
    return wears.filter(_soon(today)) if when == When.SOON else wears


def counts_of(wears: "QuerySet[CordWear]", today: date) -> DueCounts:
    """How many are past, soon, and in all; one query."""
    counted = wears.order_by().aggregate(
        past=Count("pk", filter=_past(today)), soon=Count("pk", filter=_soon(today)), all=Count("pk")
    )
    return DueCounts(**counted)


def _past(today: date) -> Q:
    # A cord at its replacement point is dated on the day on which its wear was computed, be it today.
    return Q(life_used__gte=F("replacement_point")) | Q(replace_on__lt=today)


def _soon(today: date) -> Q:
    return Q(replace_on__range=(today, today + timedelta(days=SOON_DAYS))) & ~Q(life_used__gte=F("replacement_point"))


def row_of(wear: CordWear) -> DueRow:
    """One line of the list."""
    fitting = wear.fitting
    return DueRow(
        site=fitting.bow.site.code,
        tag=fitting.bow.tag,
        position=str(Position(fitting.position).label),
        cord_spec=fitting.cord.spec.code,
        serial=fitting.cord.serial,
        fitted_on=day_of(fitting.fitted_at, fitting.bow.site.time_zone),
        life_used=wear.life_used,
        shots=wear.life_shots,
        time=wear.life_time,
        heat=wear.life_heat,
        replace_from=wear.replace_from,
        replace_on=wear.replace_on,
        replace_until=wear.replace_until,
        basis=wear.replace_basis,
        reason=wear.reason,
    )
