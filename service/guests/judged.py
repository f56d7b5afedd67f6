"""The full check of some bows for one guest, in words: which fit, and everything that speaks against the others."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from fleet.models import Site
from fleet.vocabulary import BowKind, WearChoice
from service.guests.found import BowFit
from service.guests.hire_bows import Candidate
from service.guests.narrow import Wanted
from service.instants import day_of
from service.plan.guests import Fit, GuestBooking, Misfit, fit_of
from service.said import SEMICOLON, joined, mark, say
from service.wording import named

# Said by their value, so that each stands in the catalogue.
MISFITS = (
    mark("another bow was asked for"),
    mark("other hand"),
    mark("draw length out of range"),
    mark("peak weight out of range"),
)


def judged(
    site: Site,
    wanted: Wanted,
    bows: Sequence[Candidate],
    promised: Mapping[int, Sequence[GuestBooking]],
    now: datetime,
) -> list[BowFit]:
    """These bows for a guest: those that fit first, in the order in which the site spreads wear.

    `promised`: bow id -> other bookings that have it at that time.
    """
    today = day_of(now, site.time_zone)
    found = [_bow_fit(one, fit_of(wanted.asked, one.hire, today), wanted, promised.get(one.bow.pk, ())) for one in bows]
    oldest_first = site.wear_choice == WearChoice.OLDEST_FIRST
    return sorted(
        found,
        key=lambda fit: (len(fit.why_not), -fit.share_at_end if oldest_first else fit.share_at_end, fit.bow.tag),
    )


def _bow_fit(one: Candidate, fit: Fit, wanted: Wanted, promised: Sequence[GuestBooking]) -> BowFit:
    asked = wanted.asked
    why = [misfit_in_words(misfit, one, asked) for misfit in fit.misfits]
    why += [say("promised under %(reference)s at that time", reference=other.reference) for other in promised]
    bench = one.ready.needs_bench
    found = BowFit(
        one.bow, one.hire.life_used, fit.life_at_end, tuple(why), bench if bench and bench < asked.last else None
    )
    if wanted.kind and one.bow.spec_sheet.bow_kind != wanted.kind:
        return _of_another_kind(found)
    return found


def _of_another_kind(fit: BowFit) -> BowFit:
    kind = BowKind(fit.bow.spec_sheet.bow_kind)
    return replace(fit, why_not=(*fit.why_not, say("another kind of bow: %(kind)s", kind=named(kind.label))))


def misfit_in_words(misfit: Misfit, one: Candidate, asked: GuestBooking) -> str:
    """Why a bow is not for a booking, with what the ready days rest on."""
    ready = one.ready
    if misfit is Misfit.NOT_READY:
        if ready.first is None or asked.first < ready.first:
            return say("not ready: %(why)s", why=joined(SEMICOLON, ready.before))
        if ready.last is not None and asked.last > ready.last:
            return say("not ready to the end: %(why)s", why=ready.after)
        return say("at the bench on one of these days")
    if misfit is Misfit.WORN:
        return say("past its replacement point before the booking ends")
    return say(misfit.value)
