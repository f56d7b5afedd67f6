"""The due list: every fitted cord with life used, its shares, its date and the reason; and how it is narrowed."""

from dataclasses import asdict, dataclass, fields
from datetime import date, timedelta
from enum import StrEnum
from typing import Any

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Subquery, TextField
from django.db.models.functions import Cast

from fleet import lookups
from fleet.models import Bow, Cord, Fitting, Site, Stay
from fleet.vocabulary import BowKind, BowState, Position
from service.drift_ahead import ARMS
from service.export import Cell
from service.instants import day_of
from service.models import CordWear, TimingDrift
from service.wear.coefficients import DEFAULTS, Label

SOON_DAYS = 14


class When(StrEnum):
    """Which cords are wanted: past their replacement point or date, or due soon."""

    PAST = "past"
    SOON = "soon"


class Rests(StrEnum):
    """What a cord's dates may rest on, beside the name of one assumed coefficient."""

    ASSUMED = "assumed"
    ARMS = "arms"
    KNOWN = "known"


# The coefficients that a cord's wear may name as assumed.
ASSUMED_NAMES = tuple(sorted(name for name, one in DEFAULTS.items() if one.label is Label.ASSUMED))


@dataclass(frozen=True)
class DueWanted:
    """What a person looks for in the due list; an empty field means any. Days are those of the replacement date.

    `rests` is one of `Rests` or of ASSUMED_NAMES.
    """

    text: str = ""
    position: str = ""
    bow_kind: str = ""
    cord_spec: str = ""
    place_id: int | None = None
    state: str = ""
    rests: str = ""
    first_day: date | None = None
    last_day: date | None = None


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

    def as_record(self) -> dict[str, Cell]:
        """The row as plain values."""
        return {key: value.isoformat() if isinstance(value, date) else value for key, value in asdict(self).items()}


@dataclass(frozen=True)
class DueCounts:
    """How many cords of a list are to be replaced now, within SOON_DAYS, and in all."""

    past: int
    soon: int
    all: int

    def of(self, when: str) -> int:
        """How many of them a view of the list shows."""
        return self.past if when == When.PAST else self.soon if when == When.SOON else self.all


DUE_COLUMNS = tuple(field.name for field in fields(DueRow))


def wears_in_order(site: Site | None = None) -> "QuerySet[CordWear]":
    """Wear of every fitted cord of bows in service, the soonest replacement first."""
    wears = CordWear.objects.select_related("fitting__bow__site", "fitting__bow__spec_sheet", "fitting__cord__spec")
    wears = wears.filter(fitting__removed_at=None, fitting__bow__retirement=None)
    if site is not None:
        wears = wears.filter(fitting__bow__site=site)
    return wears.order_by(F("replace_on").asc(nulls_last=True), "-life_used", "fitting__bow__tag", "fitting__position")


def narrowed(wears: "QuerySet[CordWear]", wanted: DueWanted) -> "QuerySet[CordWear]":
    """Those that a person looks for; the text is sought in the bow's tag, the cord's serial and its whole lot."""
    if wanted.text:
        wears = wears.filter(fitting__in=_with_text(wanted.text))
    if wanted.position in Position.values:
        wears = wears.filter(fitting__position=wanted.position)
    if wanted.bow_kind in BowKind.values:
        wears = wears.filter(fitting__bow__spec_sheet__bow_kind=wanted.bow_kind)
    if wanted.cord_spec:
        wears = wears.filter(fitting__cord__spec__code=wanted.cord_spec)
    if wanted.first_day:
        wears = wears.filter(replace_on__gte=wanted.first_day)
    if wanted.last_day:
        wears = wears.filter(replace_on__lte=wanted.last_day)
    return _by_bow(wears, wanted)


def _with_text(text: str) -> QuerySet[Any]:
    """Fitted cords by tag, serial or lot; each is sought in its own table, not in the rows of all of them joined."""
    fitted = Fitting.objects.filter(removed_at=None).order_by().values("pk")
    bows, cords = Bow.objects.filter(tag__icontains=text), Cord.objects.filter(serial__icontains=text)
    by_bow, by_serial = fitted.filter(bow__in=bows.values("pk")), fitted.filter(cord__in=cords.values("pk"))
    return by_bow.union(by_serial, fitted.filter(cord__in=Cord.objects.filter(lot__iexact=text).values("pk")))


def _by_bow(wears: "QuerySet[CordWear]", wanted: DueWanted) -> "QuerySet[CordWear]":
    """Narrowed by where the bow is, how it stands, and what its dates rest on."""
    if wanted.place_id is not None:
        wears = wears.filter(fitting__bow__in=Stay.objects.filter(place=wanted.place_id, end=None).values("bow"))
    if wanted.state in BowState.values:
        wears = lookups.in_state(wears, wanted.state, "fitting__bow")
    return _by_ground(wears, wanted.rests) if wanted.rests else wears


def _by_ground(wears: "QuerySet[CordWear]", rests: str) -> "QuerySet[CordWear]":
    """Those whose dates rest on one assumed coefficient, on any, on arms that nobody measured, or on none of these."""
    if rests in ASSUMED_NAMES:
        # The list is JSON, and SQLite knows no "contains" for it: its text has every name in quotation marks.
        return wears.alias(names=Cast("assumed", TextField())).filter(names__contains=f'"{rests}"')
    drifts = TimingDrift.objects.all()
    if rests == Rests.ARMS:
        named = drifts.alias(names=Cast("assumed", TextField())).filter(names__contains=f'"{ARMS}"')
        return wears.filter(fitting__bow__in=named.values("bow"))
    any_assumed = ~Q(assumed=[]) | Q(fitting__bow__in=drifts.exclude(assumed=[]).values("bow"))
    return wears.filter(any_assumed if rests == Rests.ASSUMED else ~any_assumed)


def due_when(wears: "QuerySet[CordWear]", when: str, today: date) -> "QuerySet[CordWear]":
    """Those that are to be replaced now, or within SOON_DAYS; any other word means all."""
    if when == When.PAST:
        return wears.filter(_past(today))
    return wears.filter(_soon(today)) if when == When.SOON else wears


def soonest(wears: "QuerySet[CordWear]", when: str, today: date) -> QuerySet[Any]:
    """Keys of these rows (of a view of the list) in their order, by going through the list until enough are found.

    The database reads the first page of many so, and sorts nothing; where few of all rows are meant, or a page from
    the middle, sorting those that are is quicker.
    """
    of = Fitting.objects.filter(pk=OuterRef("fitting")).order_by()
    every = CordWear.objects.filter(Exists(wears.order_by().filter(pk=OuterRef("pk"))))
    ties = (Subquery(of.values(name)) for name in ("bow__tag", "position"))
    ordered = due_when(every, when, today).order_by(F("replace_on").asc(nulls_last=True), "-life_used", *ties)
    return ordered.values_list("pk", flat=True)


def counts_of(wears: "QuerySet[CordWear]", today: date) -> DueCounts:
    """How many are past, soon, and in all; one query."""
    counted = wears.order_by().aggregate(
        past=Count("pk", filter=_past(today)), soon=Count("pk", filter=_soon(today)), all=Count("*")
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
