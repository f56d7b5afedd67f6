"""Verbs on use: shots and their corrections, turnaround checks, hires."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.core.files.base import File
from django.utils.translation import gettext as _

from fleet import lookups
from fleet.models import Booking, Bow, CheckPhoto, Hire, Person, Shots, TurnaroundCheck
from fleet.ranges import SHOTS, SHOTS_UNCERTAINTY
from fleet.record.holds import hold
from fleet.record.kernel import add, audit, not_in_future, same_entry, touch, touch_shots, verb
from fleet.refusal import Refused
from fleet.signed_contents import seal_of
from fleet.vocabulary import BowState, HoldReason, HowKnown, Position, Verdict
from service.wording import day_here, moment_here, named

# A longer stretch than this says too little about when the shots were shot.
LONGEST_ENTRY = timedelta(days=31)
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
        there = {"bow": existing.bow, "start": existing.start, "end": existing.end, "count": existing.count}
        given = {"bow": bow, "start": start, "end": end, "count": count}
        same_entry(key, {name: (there[name], given[name]) for name in there})
        return existing
    check_shots(start, end, count, how_known, now, count_sd)
    entry = add(
        Shots(
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
    )
    audit(by, "add_shots", entry, bow=bow, count=count, start=start, end=end, how_known=how_known)
    touch_shots(bow.pk, [entry], [replaces] if replaces is not None else [])
    return entry


def check_shots(
    start: datetime, end: datetime, count: int, how_known: str, now: datetime, count_sd: float = 0.0
) -> None:
    """Refuse shots that cannot be: a count out of range, an interval backwards or in the future."""
    SHOTS.check(count, _COUNTED)
    SHOTS_UNCERTAINTY.check(count_sd)
    not_in_future("shots begin", start, now)
    if end - start > LONGEST_ENTRY:
        raise Refused(
            _(
                "shots from %(start)s to %(end)s span %(days)s days; an entry spans at most %(most_days)s "
                "days: split it into its sessions or months."
            )
            % {
                "start": day_here(start),
                "end": day_here(end),
                "days": (end - start).days,
                "most_days": LONGEST_ENTRY.days,
            }
        )
    not_in_future("shots end", end, now)
    if end < start:
        raise Refused(
            _("shots end at %(end)s before they begin at %(start)s: swap them.")
            % {"end": moment_here(end), "start": moment_here(start)}
        )
    if how_known not in HowKnown.values:
        raise Refused(
            _("how known '%(how_known)s' is not one of %(values)s.")
            % {"how_known": how_known, "values": ", ".join(HowKnown.values)}
        )


@verb
def correct_shots(
    *,
    by: Person,
    entry: Shots,
    count: int,
    key: str,
    now: datetime,
    how_known: str | None = None,
    count_sd: float | None = None,
) -> Shots:
    """Replace an entry's count (and how it is known); the old row stays in the book, marked superseded."""
    existing = Shots.objects.filter(key=key).first()
    if existing is not None:
        same_entry(key, {"correction of": (existing.replaces_id, entry.pk), "count": (existing.count, count)})
        return existing
    if not Shots.objects.filter(pk=entry.pk, superseded_at=None).update(superseded_at=now):
        raise Refused(_("This entry was already corrected or withdrawn: correct the newer one, or add the shots anew."))
    newer = add_shots(
        by=by,
        bow=entry.bow,
        start=entry.start,
        end=entry.end,
        count=count,
        how_known=how_known or entry.how_known,
        count_sd=entry.count_sd if count_sd is None else count_sd,
        key=key,
        now=now,
        replaces=entry,
    )
    audit(by, "correct_shots", entry, bow=entry.bow, before=entry.count, after=count)
    return newer


@verb
def withdraw_shots(*, by: Person, entry: Shots, why: str, now: datetime) -> None:
    """Strike out an entry that never happened (or belongs to another bow); the row stays, marked superseded."""
    if not why.strip():
        raise Refused(_("Say why these shots are struck out."))
    if not Shots.objects.filter(pk=entry.pk, superseded_at=None).update(superseded_at=now):
        return
    audit(by, "withdraw_shots", entry, bow=entry.bow, count=entry.count, why=why)
    touch_shots(entry.bow_id, [], [entry])


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
    because: Sequence[str] = (),
    held_already: bool = False,
) -> TurnaroundCheck:
    """Keep a check between two guests as given; a verdict other than ready holds the bow.

    `held_already`: all that speaks against the bow is in the book as holds or needs of its own, so none is added.
    """
    existing = TurnaroundCheck.objects.filter(key=key).first()
    if existing is not None:
        same_entry(key, {"bow": (existing.bow, bow), "verdict": (existing.verdict, verdict)})
        return existing
    if verdict not in Verdict.values:
        raise Refused(
            _("verdict '%(verdict)s' is not one of %(values)s.")
            % {"verdict": verdict, "values": ", ".join(Verdict.values)}
        )
    check = add(
        TurnaroundCheck(
            bow=bow,
            at=at,
            by=by,
            answers=answers,
            measurements=measurements,
            verdict=verdict,
            because=list(because),
            key=key,
        )
    )
    audit(by, "record_turnaround", check, bow=bow, verdict=verdict, contents=seal_of(check))
    if verdict != Verdict.READY and not held_already:
        told = hold_because or named(Verdict(verdict).label)
        hold(by=by, bow=bow, reason=HoldReason.TURNAROUND, detail=told, since=at)
    touch([bow.pk])
    return check


@verb
def keep_check_photo(*, by: Person, check: TurnaroundCheck, topic: str, image: "File[bytes]") -> CheckPhoto:
    """Keep a picture of what a check found; the same topic again is the same picture."""
    existing = CheckPhoto.objects.filter(check_made=check, topic=topic).first()
    if existing is not None:
        return existing
    photo = CheckPhoto(check_made=check, topic=topic)
    photo.image.save(image.name or "photo.jpg", image, save=False)
    add(photo)
    audit(by, "keep_check_photo", photo, bow=check.bow, topic=topic)
    return photo


@verb
def hand_out(
    *, by: Person, bow: Bow, reference: str, at: datetime, known: dict[str, Any], booking: Booking | None = None
) -> Hire:
    """Hand a bow to a guest; refused for a bow that is held, out, on the bench, retired or without all its cords."""
    state = lookups.with_state(Bow.objects.select_for_update(of=("self",), no_key=True).filter(pk=bow.pk)).get().state
    there = Hire.objects.filter(bow=bow, back_at=None, reference=reference, out_at=at).first()
    if there is not None:
        return there
    if state != BowState.READY:
        why = "; ".join(one.detail for one in lookups.open_holds(bow))
        raise Refused(
            _("%(tag)s is %(state)s%(because)s: pick another bow.")
            % {"tag": bow.tag, "state": BowState(state).label, "because": f" ({why})" if why else ""}
        )
    missing = lookups.missing_positions(bow)
    if missing:
        words = ", ".join(str(Position(position).label) for position in missing)
        raise Refused(
            _("%(tag)s has no %(words)s in the book: record the cord that is fitted, or pick another bow.")
            % {"tag": bow.tag, "words": words}
        )
    hire = add(Hire(bow=bow, booking=booking, reference=reference, out_at=at, out_by=by, known_at_hand_out=known))
    audit(by, "hand_out", hire, bow=bow, reference=reference, at=at)
    return hire


@verb
def take_back(*, by: Person, bow: Bow, at: datetime) -> Hire:
    """Take a bow back from a guest."""
    hire = Hire.objects.filter(bow=bow, back_at=None).first()
    if hire is None:
        raise Refused(
            _("%(tag)s is not out with a guest: look at its history for when it came back.") % {"tag": bow.tag}
        )
    if at < hire.out_at:
        raise Refused(
            _("%(tag)s went out at %(out_at)s, after %(at)s: check the time.")
            % {"tag": bow.tag, "out_at": moment_here(hire.out_at), "at": moment_here(at)}
        )
    hire.back_at, hire.back_by = at, by
    hire.save(update_fields=["back_at", "back_by"])
    audit(by, "take_back", hire, bow=bow, reference=hire.reference, at=at)
    return hire
