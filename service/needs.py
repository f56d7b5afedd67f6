"""What a bow needs, with its reason in numbers and its window of days. One function per rule; no database here."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta

from fleet.vocabulary import BowKind, HoldReason, Position
from service.house import BENCH_WORK, LONGEST_DEFERRAL_DAYS, SETTLE_IN_LONGEST_DAYS
from service.models import NeedKind
from service.said import figure, joined, say
from service.wording import named


@dataclass(frozen=True)
class CordFacts:
    """What the rules need to know of one fitted cord."""

    fitting_id: int
    position: str
    spec_code: str
    fitted_on: date
    life_used: float
    replace_on: date | None
    replace_reason: str
    inspect_within_days: float
    shots_since_fitted: float
    shots_per_day: float
    settled: bool
    settle_in_shots: float
    hard_limit_on: date | None = None


@dataclass(frozen=True)
class TimingFacts:
    """The first reference measurement that is predicted to leave its tolerance, and when."""

    due_on: date
    reason: str


@dataclass(frozen=True)
class HeatFacts:
    """What the hottest cord met since the bow was last looked over, and whether it holds the bow.

    `asks_now`: it wants an inspection of its own; else it is told with the next one.
    """

    told: str
    holds: bool
    asks_now: bool = True


@dataclass(frozen=True)
class OpenHold:
    """An open hold of the bow, and since when."""

    reason: str
    detail: str
    since: date


@dataclass(frozen=True)
class BowFacts:
    """What the rules need to know of one bow."""

    bow_id: int
    bow_kind: str
    in_service_on: date
    last_inspected_on: date | None
    inspection_max_days: int
    cords: tuple[CordFacts, ...]
    holds: tuple[OpenHold, ...] = ()
    missing_parts: dict[str, int] = field(default_factory=dict)
    timing: TimingFacts | None = None
    heat: HeatFacts | None = None
    deferred: dict[str, date] = field(default_factory=dict)
    notices: tuple[tuple[str, date], ...] = ()


@dataclass(frozen=True)
class NeedFacts:
    """One need; days are the site's calendar days, `latest_on` the last day on which it may go to a guest undone."""

    kind: NeedKind
    reason: str
    earliest_on: date
    due_on: date
    latest_on: date | None
    fitting_id: int | None = None
    parts: dict[str, int] = field(default_factory=dict)
    holds: bool = False


HOLD_NEEDS: dict[str, NeedKind] = {
    HoldReason.INCIDENT: NeedKind.INCIDENT,
    HoldReason.CONDEMNED: NeedKind.REPLACEMENT,
    HoldReason.NOTICE: NeedKind.NOTICE,
    HoldReason.HEAT: NeedKind.INSPECTION,
    HoldReason.TURNAROUND: NeedKind.TURNAROUND,
    HoldReason.MEASUREMENT: NeedKind.TURNAROUND,
    HoldReason.UNKNOWN_USE: NeedKind.INSPECTION,
    HoldReason.PERSON: NeedKind.REQUESTED,
}


def needs_of(bow: BowFacts, today: date) -> list[NeedFacts]:
    """Every need of a bow, at most one of each kind: a hold's need stands in for the routine one of its kind."""
    found: dict[str, NeedFacts] = {}
    for need in (
        *held_needs(bow),
        *heat(bow, today),
        *replacement(bow),
        *inspection(bow, today),
        *timing_check(bow),
        *settle_in(bow, today),
        *notices(bow),
    ):
        found.setdefault(need.kind, need)
    return sorted(found.values(), key=lambda need: (need.due_on, need.kind))


def held_needs(bow: BowFacts) -> Iterable[NeedFacts]:
    """What holds a bow is due from the moment it held it."""
    for hold in bow.holds:
        kind = HOLD_NEEDS[hold.reason]
        yield NeedFacts(
            kind,
            say("held since %(day)s: %(detail)s", day=hold.since, detail=hold.detail),
            hold.since,
            hold.since,
            hold.since,
            parts=_set_parts(bow) if kind is NeedKind.REPLACEMENT else {},
            holds=True,
        )


def heat(bow: BowFacts, today: date) -> Iterable[NeedFacts]:
    """A cord met a temperature that the house inspects for, or holds the bow for, since it was last looked over."""
    if bow.heat is not None and bow.heat.asks_now:
        yield NeedFacts(NeedKind.INSPECTION, bow.heat.told, today, today, today, holds=bow.heat.holds)


def replacement(bow: BowFacts) -> Iterable[NeedFacts]:
    """The set is replaced together, on the day on which its first cord reaches the replacement point."""
    dated = [cord for cord in bow.cords if cord.replace_on is not None]
    if not dated:
        return
    first = min(dated, key=lambda cord: (cord.replace_on or date.max, cord.position))
    due = first.replace_on or date.max
    limits = [cord.hard_limit_on for cord in bow.cords if cord.hard_limit_on is not None]
    latest = max(due, min(bow.deferred.get(NeedKind.REPLACEMENT, due), last_possible_day(limits, due)))
    early = timedelta(days=BENCH_WORK[NeedKind.REPLACEMENT].days_early)
    yield NeedFacts(
        NeedKind.REPLACEMENT,
        first.replace_reason,
        due - early,
        due,
        latest,
        first.fitting_id,
        parts=_set_parts(bow),
    )


def last_possible_day(hard_limits: list[date], due: date) -> date:
    """The latest day to which a replacement due on `due` may be put off.

    The first cord to reach its spec's hard limit decides, and never more than the house's longest deferral.
    """
    return min([*hard_limits, due + timedelta(days=LONGEST_DEFERRAL_DAYS)])


def _set_parts(bow: BowFacts) -> dict[str, int]:
    """The whole set: the makes that are on the bow, and the spec sheet's at positions that are empty."""
    parts = dict(bow.missing_parts)
    for cord in bow.cords:
        parts[cord.spec_code] = parts.get(cord.spec_code, 0) + 1
    return parts


def inspection(bow: BowFacts, today: date) -> Iterable[NeedFacts]:
    """Never later than the house maximum, and sooner where a cord could be condemned unnoticed."""
    if not bow.cords:
        return
    since = bow.last_inspected_on or bow.in_service_on
    nearest = min(bow.cords, key=lambda cord: cord.inspect_within_days)
    step = min(float(bow.inspection_max_days), nearest.inspect_within_days)
    due = since + timedelta(days=max(1, int(step)))
    if bow.last_inspected_on:
        told = say("last looked over on %(day)s", day=since)
    else:
        told = say("never inspected since it came on %(day)s", day=since)
    if int(step) < bow.inspection_max_days:
        why = say(
            "%(cord)s at %(used)s of rated life allows %(days)d days",
            cord=named(Position(nearest.position).label),
            used=figure(nearest.life_used, ".2f"),
            days=int(step),
        )
    else:
        why = say("the house maximum is %(days)d days", days=bow.inspection_max_days)
    if bow.heat is not None:
        why = joined(". ", [why, bow.heat.told])
    early = timedelta(days=BENCH_WORK[NeedKind.INSPECTION].days_early)
    yield NeedFacts(NeedKind.INSPECTION, joined("; ", [told, why]), min(due, max(since, due - early)), due, due)


def timing_check(bow: BowFacts) -> Iterable[NeedFacts]:
    """The first reference measurement is predicted to leave its tolerance."""
    if bow.timing is None:
        return
    due = bow.timing.due_on
    early = timedelta(days=BENCH_WORK[NeedKind.TIMING_CHECK].days_early)
    yield NeedFacts(NeedKind.TIMING_CHECK, bow.timing.reason, due - early, due, None)


def settle_in(bow: BowFacts, today: date) -> Iterable[NeedFacts]:
    """After the first shots on a new cord its timing is read again; due once they are shot, or after a month."""
    if bow.bow_kind != BowKind.COMPOUND:
        return
    fresh = [cord for cord in bow.cords if not cord.settled]
    if not fresh:
        return
    newest = max(fresh, key=lambda cord: (cord.fitted_on, cord.position))
    missing = newest.settle_in_shots - newest.shots_since_fitted
    longest = newest.fitted_on + timedelta(days=SETTLE_IN_LONGEST_DAYS)
    cord, shots = named(Position(newest.position).label), figure(newest.settle_in_shots, ".0f")
    if missing <= 0:
        due = today
        reason = say(
            "%(cord)s fitted on %(day)s has had its %(shots)s settle-in shots: its timing was not measured since",
            cord=cord,
            day=newest.fitted_on,
            shots=shots,
        )
    else:
        days = missing / newest.shots_per_day if newest.shots_per_day > 0 else float(SETTLE_IN_LONGEST_DAYS)
        due = min(longest, today + timedelta(days=min(SETTLE_IN_LONGEST_DAYS, int(days) + 1)))
        reason = say(
            "%(cord)s fitted on %(day)s has %(shot)s of %(shots)s settle-in shots: %(missing)s are left to shoot in",
            cord=cord,
            day=newest.fitted_on,
            shot=figure(newest.shots_since_fitted, ".0f"),
            shots=shots,
            missing=figure(missing, ".0f"),
        )
    yield NeedFacts(NeedKind.SETTLE_IN, reason, min(due, today), due, None, newest.fitting_id)


def notices(bow: BowFacts) -> Iterable[NeedFacts]:
    """A notice that schedules without holding."""
    for title, due in bow.notices:
        yield NeedFacts(
            NeedKind.NOTICE, say("notice: %(title)s", title=title), min(due, due - timedelta(days=14)), due, due
        )
