"""Which bows fit a booking or a walk-in, why each other one does not, and who gets which bow."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Booking, Bow, Hire, Person, Site
from fleet.refusal import Refused
from fleet.vocabulary import BowKind, WearChoice
from service.guests.hire_bows import Candidate, candidates, guest_booking
from service.instants import day_of
from service.plan.assign import Assignment, assign
from service.plan.assign import WearChoice as Spread
from service.plan.guests import Fit, GuestBooking, Misfit, clash, fit_of, fits_for
from service.said import SEMICOLON, joined, say
from service.wording import named, worded

SPREAD = {WearChoice.LEVEL: Spread.LEVEL, WearChoice.OLDEST_FIRST: Spread.OLDEST_FIRST}
WALK_IN = "walk-in"
SHOWN_DAYS = 14
# So many are looked at on a phone with one hand; the further ones open on their own.
BEST_FEW = 5
ONE_HOUR = timedelta(hours=1)
# A booking that ends at midnight does not take the day that begins there.
ONE_INSTANT = timedelta(microseconds=1)


@dataclass(frozen=True)
class BowFit:
    """One bow for one booking: `share_now` and `share_at_end` of its replacement point, and why it does not fit.

    `bench_day`: it fits if the bench does by then what it has planned.
    """

    bow: Bow
    share_now: float
    share_at_end: float
    why_not: tuple[str, ...]
    bench_day: date | None

    @property
    def fits(self) -> bool:
        """Whether nothing speaks against it."""
        return not self.why_not


@dataclass(frozen=True)
class FitsInOrder:
    """Bows as they are offered: the best few, the further ones that fit, and those that do not."""

    best: tuple[BowFit, ...]
    further: tuple[BowFit, ...]
    others: tuple[BowFit, ...]

    @property
    def count(self) -> int:
        """How many fit."""
        return len(self.best) + len(self.further)


@dataclass(frozen=True)
class BookingLine:
    """One booking ahead: the bow it has or would get, or why it goes without. `out`: the bow is with the guest."""

    booking: Booking
    promised: Bow | None
    proposed: Bow | None
    without: str
    out: bool
    promise_breaks: str = ""


@dataclass(frozen=True)
class GuestsAhead:
    """Bookings of the coming days. `most_served`: proven that no assignment serves more of them."""

    lines: tuple[BookingLine, ...]
    most_served: bool
    served: int


def fits_of(site: Site, asked: GuestBooking, now: datetime) -> list[BowFit]:
    """Every bow for a booking or a walk-in: those that fit first, in the order in which the site spreads wear."""
    return _fits(site, asked, {one.bow.tag: one for one in candidates(site, now)}, now)


def in_order(fits: list[BowFit], promised: Bow | None = None) -> FitsInOrder:
    """The bows of `fits_of` or `instead_of`, those that fit without bench work first.

    A bow that is promised stands among the best whether it still fits or not: who looks, looks for it.
    """
    own = [one for one in fits if one.bow == promised]
    fitting = sorted(
        (one for one in fits if one.fits and one.bow != promised), key=lambda one: one.bench_day is not None
    )
    few = BEST_FEW - len(own)
    others = tuple(one for one in fits if not one.fits and one.bow != promised)
    return FitsInOrder((*own, *fitting[:few]), tuple(fitting[few:]), others)


def _fits(site: Site, asked: GuestBooking, there: dict[str, Candidate], now: datetime) -> list[BowFit]:
    today = day_of(now, site.time_zone)
    promised = _promised_to_others(site, asked, now)
    fits = fits_for(asked, tuple(one.hire for one in there.values()), today)
    found = [_bow_fit(there[fit.bow], fit, asked, promised.get(fit.bow, ())) for fit in fits]
    oldest_first = site.wear_choice == WearChoice.OLDEST_FIRST
    return sorted(
        found,
        key=lambda fit: (len(fit.why_not), -fit.share_at_end if oldest_first else fit.share_at_end, fit.bow.tag),
    )


def _promised_to_others(site: Site, asked: GuestBooking, now: datetime) -> dict[str, tuple[GuestBooking, ...]]:
    """Tag -> bookings that have that very bow at the time that is asked for."""
    found: dict[str, list[GuestBooking]] = {}
    for booking in _bookings(site, now):
        other = guest_booking(booking)
        if other.bow is not None and other.reference != asked.reference and clash(asked, other):
            found.setdefault(other.bow, []).append(other)
    return {tag: tuple(some) for tag, some in found.items()}


def _bow_fit(one: Candidate, fit: Fit, asked: GuestBooking, promised: Sequence[GuestBooking]) -> BowFit:
    why = [_in_words(misfit, one, asked) for misfit in fit.misfits]
    why += [say("promised under %(reference)s at that time", reference=other.reference) for other in promised]
    bench = one.ready.needs_bench
    return BowFit(
        one.bow, one.hire.life_used, fit.life_at_end, tuple(why), bench if bench and bench < asked.last else None
    )


def _in_words(misfit: Misfit, one: Candidate, asked: GuestBooking) -> str:
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


def instead_of(booking: Booking, now: datetime) -> list[BowFit]:
    """Every bow for a booking, its promised one among them: who was promised a bow may be given another like it.

    Where the booking names its very bow and no other need, another of its kind, hand, draw length and weight is alike.
    """
    there = {one.bow.tag: one for one in candidates(booking.site, now)}
    asked = replace(guest_booking(booking), bow=None)
    own = there.get(booking.bow.tag) if booking.bow else None
    if booking.hand or own is None:
        return _fits(booking.site, asked, there, now)
    # A recurve or a longbow has no draw length of its own: any draw up to its longest.
    length = sum(own.hire.draw_length_m) / 2 if own.hire.draw_length_m[0] else None
    like_it = replace(asked, hand=own.hire.hand, draw_length_m=length, peak_weight_n=own.hire.peak_weight_n)
    kind = own.bow.spec_sheet.bow_kind
    fits = _fits(booking.site, like_it, there, now)
    return sorted(
        (one if one.bow.spec_sheet.bow_kind == kind else _of_another_kind(one) for one in fits),
        key=lambda fit: len(fit.why_not),
    )


def _of_another_kind(fit: BowFit) -> BowFit:
    kind = BowKind(fit.bow.spec_sheet.bow_kind)
    return replace(fit, why_not=(*fit.why_not, say("another kind of bow: %(kind)s", kind=named(kind.label))))


def _bookings(site: Site, now: datetime) -> list[Booking]:
    """Bookings that are not over, soonest first."""
    ahead = Booking.objects.filter(site=site, cancelled_at=None, end__gt=now)
    return list(ahead.select_related("bow", "site", "guest").order_by("start", "reference"))


def guests_ahead(site: Site, now: datetime, days: int = SHOWN_DAYS) -> GuestsAhead:
    """The bookings of the coming days with an assignment that leaves nobody without if any assignment does so.

    A promised bow stays with its booking; one that does not fit any more is said, and no other bow is put in its place.
    """
    bookings = [one for one in _bookings(site, now) if one.start < now + timedelta(days=days)]
    out = dict(Hire.objects.filter(booking__in=bookings, back_at=None).values_list("booking_id", "bow__tag"))
    waiting = [one for one in bookings if one.pk not in out]
    there = {one.bow.tag: one for one in candidates(site, now)}
    today = day_of(now, site.time_zone)
    asked = tuple(guest_booking(one) for one in waiting)
    result = assign(asked, tuple(one.hire for one in there.values()), today, SPREAD[WearChoice(site.wear_choice)])
    lines = tuple(_line(one, result, there, one.pk in out, today) for one in bookings)
    return GuestsAhead(lines, result.most_served, len(result.bow_of) + len(out))


def _line(booking: Booking, result: Assignment, there: dict[str, Candidate], is_out: bool, today: date) -> BookingLine:
    tag = result.bow_of.get(booking.reference)
    without = next((one.sentence for one in result.without if one.booking == booking.reference), "")
    if booking.bow is None:
        return BookingLine(booking, None, there[tag].bow if tag is not None else None, without, is_out)
    promised = there.get(booking.bow.tag)
    if without and promised is not None:
        asked = guest_booking(booking)
        own = [_in_words(misfit, promised, asked) for misfit in fit_of(asked, promised.hire, today).misfits]
        without = joined(SEMICOLON, own) if own else without
    return BookingLine(booking, booking.bow, None, "", is_out, without)


def accept(site: Site, booking: Booking, bow: Bow, *, by: Person, now: datetime) -> Booking:
    """Promise a bow to a booking; refused where it does not fit, with every reason."""
    fit = next((one for one in instead_of(booking, now) if one.bow == bow), None)
    if fit is None:
        raise Refused(
            _("%(tag)s is not a bow of %(site)s in service: pick another bow.") % {"tag": bow.tag, "site": site}
        )
    if not fit.fits:
        raise Refused(
            _("%(tag)s is not for %(reference)s: %(why_not)s. Pick another bow.")
            % {"tag": bow.tag, "reference": booking.reference, "why_not": worded(joined(SEMICOLON, fit.why_not))}
        )
    return record.promise_bow(by=by, booking=booking, bow=bow)
