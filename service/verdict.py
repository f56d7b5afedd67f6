"""May this bow go out? One answer, by the house's table, from its state and its needs."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from fleet.vocabulary import BowState
from service.models import NeedKind
from service.said import Said, joined, say
from service.wording import named


@dataclass(frozen=True)
class DueNeed:
    """What the table needs to know of a need."""

    kind: str
    due_on: date
    latest_on: date | None
    reason: str
    holds: bool = False


@dataclass(frozen=True)
class Verdict:
    """`may_go` with its warnings, or not, with what holds it."""

    may_go: bool
    because: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    @property
    def word(self) -> str:
        """The answer in one word."""
        if not self.may_go:
            return "held"
        return "ready with warning" if self.warnings else "ready"


def may_go_out(
    state: str,
    needs: list[DueNeed],
    today: date,
    timing_grace_days: int,
    guests_shoot_in: bool,
    missing: Sequence[str] = (),
) -> Verdict:
    """The table "May it go out?": state first, then cords that the book lacks, then each need by its date."""
    because: list[str] = []
    warnings: list[str] = []
    if state == BowState.RETIRED:
        because.append(say("retired"))
    elif state == BowState.ON_BENCH:
        because.append(say("on the bench"))
    if missing:
        because.append(say("no %(cords)s in the book: record the cord that is fitted", cords=joined(", ", missing)))
    for need in needs:
        _judge(need, today, timing_grace_days, guests_shoot_in, because, warnings)
    if state == BowState.HELD and not because:
        because.append(say("held until the bench releases it"))
    return Verdict(not because, because, warnings)


def _judge(
    need: DueNeed,
    today: date,
    timing_grace_days: int,
    guests_shoot_in: bool,
    because: list[str],
    warnings: list[str],
) -> None:
    if need.holds:
        because.append(need.reason)
    elif need.kind == NeedKind.TIMING_CHECK:
        if today > need.due_on + timedelta(days=timing_grace_days):
            because.append(_was_due(need, need.due_on))
        elif today > need.due_on:
            warnings.append(_was_due(need, need.due_on))
    elif need.kind == NeedKind.SETTLE_IN:
        if guests_shoot_in:
            warnings.append(say("%(reason)s; check timing when it comes back", reason=need.reason))
        else:
            because.append(say("%(reason)s; staff see to it before a guest does", reason=need.reason))
    elif need.latest_on is not None and today > need.latest_on:
        because.append(
            _was_put_off(need, need.latest_on) if need.latest_on > need.due_on else _was_due(need, need.due_on)
        )


def _was_due(need: DueNeed, day: date) -> Said:
    kind = named(NeedKind(need.kind).label)
    return say("%(kind)s was due on %(day)s: %(reason)s", kind=kind, day=day, reason=need.reason)


def _was_put_off(need: DueNeed, until: date) -> Said:
    kind = named(NeedKind(need.kind).label)
    return say(
        "%(kind)s was due on %(day)s and put off to %(until)s: %(reason)s",
        kind=kind,
        day=need.due_on,
        until=until,
        reason=need.reason,
    )
