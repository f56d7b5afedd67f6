"""Verbs on use: shots and their corrections, turnaround checks, hires."""

from datetime import datetime
from typing import Any

from fleet import lookups
from fleet.models import Booking, Bow, Hire, Person, Shots, TurnaroundCheck
from fleet.ranges import SHOTS
from fleet.record.kernel import audit, not_in_future, touch, verb
from fleet.refusal import Refused
from fleet.vocabulary import BowState, HoldReason, HowKnown, Verdict

_COUNTED = "check the count, or split it into its sessions."


@verb
def add_shots(
    *,
    by: Person,
    bow: Bow,
    start: datetime,
    end: datetime,
    count: int,
    how_known: str,
    key: str,
    now: datetime,
    count_sd: float = 0.0,
    replaces: Shots | None = None,
) -> Shots:
    """Record shots between two instants. The same key again is the same entry: never counted twice."""
    existing = Shots.objects.filter(key=key).first()
    if existing is not None:
        if (existing.bow_id, existing.start, existing.end, existing.count) == (bow.pk, start, end, count):
            return existing
        raise Refused(f"key {key!r} was used for another entry ({existing.count} shots): give a new key.")
    check_shots(start, end, count, how_known, now)
    entry = Shots.objects.create(
        bow=bow,
        start=start,
        end=end,
        count=count,
        how_known=how_known,
        count_sd=count_sd,
        key=key,
        entered_at=now,
        entered_by=by,
        replaces=replaces,
    )
    audit(by, "add_shots", entry, bow=bow, count=count, start=start, end=end, how_known=how_known)
    touch([bow.pk])
    return entry


def check_shots(start: datetime, end: datetime, count: int, how_known: str, now: datetime) -> None:
    """Refuse shots that cannot be: a count out of range, an interval backwards or in the future."""
    SHOTS.check(count, _COUNTED)
    if end < start:
        raise Refused(f"shots end at {end:%Y-%m-%d %H:%M} before they begin at {start:%Y-%m-%d %H:%M}: swap them.")
    not_in_future("shots end", end, now)
    if how_known not in HowKnown.values:
        raise Refused(f"how known {how_known!r} is not one of {', '.join(HowKnown.values)}.")


@verb
def correct_shots(*, by: Person, entry: Shots, count: int, key: str, now: datetime) -> Shots:
    """Replace an entry's count; the old row stays in the book, marked superseded."""
    if entry.superseded_at is not None:
        raise Refused("This entry was already corrected: correct the newer one.")
    Shots.objects.filter(pk=entry.pk).update(superseded_at=now)
    return add_shots(
        by=by,
        bow=entry.bow,
        start=entry.start,
        end=entry.end,
        count=count,
        how_known=entry.how_known,
        key=key,
        now=now,
        replaces=entry,
    )


@verb
def withdraw_shots(*, by: Person, entry: Shots, why: str, now: datetime) -> None:
    """Strike out an entry that never happened (or belongs to another bow); the row stays, marked superseded."""
    if entry.superseded_at is not None:
        return
    Shots.objects.filter(pk=entry.pk).update(superseded_at=now)
    audit(by, "withdraw_shots", entry, bow=entry.bow, count=entry.count, why=why)
    touch([entry.bow_id])


@verb
def record_turnaround(
    *,
    by: Person,
    bow: Bow,
    at: datetime,
    answers: dict[str, Any],
    measurements: list[Any],
    verdict: str,
    key: str,
    hold_because: str = "",
) -> TurnaroundCheck:
    """Keep a check between two guests as given; a verdict other than ready holds the bow."""
    existing = TurnaroundCheck.objects.filter(key=key).first()
    if existing is not None:
        return existing
    if verdict not in Verdict.values:
        raise Refused(f"verdict {verdict!r} is not one of {', '.join(Verdict.values)}.")
    check = TurnaroundCheck.objects.create(
        bow=bow, at=at, by=by, answers=answers, measurements=measurements, verdict=verdict, key=key
    )
    audit(by, "record_turnaround", check, bow=bow, verdict=verdict)
    if verdict != Verdict.READY:
        from fleet.record.bows import hold

        hold(by=by, bow=bow, reason=HoldReason.TURNAROUND, detail=hold_because or str(Verdict(verdict).label), since=at)
    touch([bow.pk])
    return check


@verb
def hand_out(
    *, by: Person, bow: Bow, reference: str, at: datetime, known: dict[str, Any], booking: Booking | None = None
) -> Hire:
    """Hand a bow to a guest; refused for a bow that is held, out, on the bench or retired."""
    state = lookups.with_state(Bow.objects.select_for_update(of=("self",)).filter(pk=bow.pk)).get().state
    if state != BowState.READY:
        why = "; ".join(hold.detail for hold in lookups.open_holds(bow))
        raise Refused(f"{bow.tag} is {BowState(state).label}{f' ({why})' if why else ''}: pick another bow.")
    hire = Hire.objects.create(
        bow=bow, booking=booking, reference=reference, out_at=at, out_by=by, known_at_hand_out=known
    )
    audit(by, "hand_out", hire, bow=bow, reference=reference, at=at)
    return hire


@verb
def take_back(*, by: Person, bow: Bow, at: datetime) -> Hire:
    """Take a bow back from a guest."""
    hire = Hire.objects.filter(bow=bow, back_at=None).first()
    if hire is None:
        raise Refused(f"{bow.tag} is not out with a guest.")
    if at < hire.out_at:
        raise Refused(f"{bow.tag} went out at {hire.out_at:%Y-%m-%d %H:%M} UTC, after {at:%Y-%m-%d %H:%M}.")
    hire.back_at, hire.back_by = at, by
    hire.save(update_fields=["back_at", "back_by"])
    audit(by, "take_back", hire, bow=bow, reference=hire.reference, at=at)
    return hire
