"""Handing a bow to a guest, with what the book knew then: it answers "was this bow safe when they had it"."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from fleet import lookups, record
from fleet.models import Booking, Bow, Hire, Person, SignedResult, TurnaroundCheck
from fleet.refusal import Refused
from service.models import CordWear
from service.said import one_stop, worded
from service.verdict import Verdict
from service.verdicts import verdict_of

# Two taps on the same button are one hand-out.
SAME_TAP = timedelta(minutes=2)
# What a walk-in is taken to last at least; the house asks for no end when it hands a bow out.
WALK_IN_LASTS = timedelta(hours=1)
PROMISE_IN_SIGHT = timedelta(hours=12)


@dataclass(frozen=True)
class LastSeen:
    """The last check between guests, the last order released, and whether the bow came back unchecked since."""

    check: TurnaroundCheck | None
    result: SignedResult | None
    unchecked: bool


def last_seen(bow: Bow) -> LastSeen:
    """Who looked the bow over last. A release of the bench counts as looked over."""
    check = bow.turnarounds.select_related("by").order_by("-at").first()
    released = bow.results.exclude(released_at=None).select_related("released_by").order_by("-released_at")
    result = released.first()
    back_at = bow.hires.exclude(back_at=None).order_by("-back_at").values_list("back_at", flat=True).first()
    seen = [check.at] if check else []
    if result and result.released_at:
        seen.append(result.released_at)
    return LastSeen(check, result, back_at is not None and (not seen or max(seen) < back_at))


def hand_out(bow: Bow, *, by: Person, reference: str, now: datetime, booking: Booking | None = None) -> Hire:
    """Hand a bow to a guest. Refused, with the reason, for a bow that is held, unchecked, out or anything but ready."""
    there = Hire.objects.filter(bow=bow, back_at=None, reference=reference, out_at__gt=now - SAME_TAP).first()
    if there is not None:
        return there
    if not reference.strip():
        raise Refused(_("Say for whom: choose the booking, or type a reference for a walk-in."))
    verdict, seen = verdict_of(bow, now), last_seen(bow)
    if not verdict.may_go:
        details = [one.detail for one in lookups.open_holds(bow)]
        more = [detail for detail in details if not any(detail in line for line in verdict.because)]
        why = "; ".join(worded(one) for one in [*verdict.because, *more])
        raise Refused(one_stop(_("%(tag)s is held: %(why)s. Pick another bow.") % {"tag": bow.tag, "why": why}))
    if seen.unchecked:
        raise Refused(_("%(tag)s came back and was not checked since: do the check first.") % {"tag": bow.tag})
    _refuse_if_promised(bow, booking, now)
    return record.hand_out(
        by=by, bow=bow, reference=reference.strip(), at=now, known=known_now(bow, verdict, seen), booking=booking
    )


def next_promise(bow: Bow, booking: Booking | None, now: datetime) -> Booking | None:
    """The first booking of the hours ahead that has this very bow, other than the one it goes out with."""
    promised = Booking.objects.filter(bow=bow, cancelled_at=None, hires=None, end__gt=now)
    others = promised.exclude(pk=booking.pk) if booking else promised
    return others.filter(start__lt=now + PROMISE_IN_SIGHT).order_by("start", "reference").first()


def _refuse_if_promised(bow: Bow, booking: Booking | None, now: datetime) -> None:
    """A bow is not taken from the guest to whom it is promised while it would still be out."""
    other = next_promise(bow, booking, now)
    back_at = max(now, booking.end) if booking else now + WALK_IN_LASTS
    if other is None or other.start >= back_at:
        return
    words = {"tag": bow.tag, "other": other.reference, "start": clock_time(other, now)}
    raise Refused(
        _(
            "%(tag)s is promised to %(other)s from %(start)s: hand it out with that booking or pick another bow. If "
            "that guest does not come, cancel %(other)s or promise it another bow first."
        )
        % words
    )


def clock_time(booking: Booking, now: datetime) -> str:
    """When a booking begins on the site's clock, with the day where that is not today."""
    zone = ZoneInfo(booking.site.time_zone)
    start = booking.start.astimezone(zone)
    today = start.date() == now.astimezone(zone).date()
    return str(date_format(start, "TIME_FORMAT" if today else "DATETIME_FORMAT"))


def known_now(bow: Bow, verdict: Verdict, seen: LastSeen) -> dict[str, Any]:
    """What the book knows of a bow as it goes out, in plain values: state, answer, last checks, cords, references.

    People stand there by number, for their names are erased and what was known is not.
    """
    references = lookups.current_reference_set(bow)
    wears = CordWear.objects.filter(fitting__bow=bow, fitting__removed_at=None).select_related("fitting__cord")
    return {
        "state": lookups.state_of(bow),
        "answer": verdict.word,
        "warnings": list(verdict.warnings),
        "last_check": seen.check
        and {
            "at": seen.check.at.isoformat(),
            "by": seen.check.by_id,
            "verdict": seen.check.verdict,
            "key": seen.check.key,
        },
        "last_bench": seen.result
        and {
            "order": seen.result.order_number,
            "released_at": seen.result.released_at and seen.result.released_at.isoformat(),
            "released_by": seen.result.released_by_id,
        },
        "reference_version": references.version if references else None,
        "cords": [
            {"position": w.fitting.position, "serial": w.fitting.cord.serial, "life_used": round(w.life_used, 4)}
            for w in wears.order_by("fitting__position")
        ],
    }
