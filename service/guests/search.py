"""Which bows fit a guest: narrowed and ordered by the database, each checked in full before it is offered.

Bows are checked some at a time until a page is full, so that the time of a search does not grow with the fleet, and the
further ones follow on further pages, so that none that fits is hidden. Few that do not fit are listed with the reason
of each; many are counted by reason, and listed page by page for who asks.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import islice

from django.db.models import Count, Q
from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Booking, Bow, Person, Site
from fleet.refusal import Refused
from service.guest_models import GuestBow
from service.guests.found import BEST_FEW, Beyond, BowFit, FitsInOrder, in_order
from service.guests.hire_bows import candidates, guest_booking
from service.guests.judged import judged
from service.guests.narrow import Wanted, could_serve, least_against, promised_then, shape_misfits
from service.plan.guests import GuestBooking
from service.said import SEMICOLON, joined, say
from service.wording import worded

WALK_IN = "walk-in"
FITS_A_PAGE = 15
OTHERS_A_PAGE = 15
MOST_AT_ONCE = 200
"""Where the check refuses what the database let pass, more are checked the next time, so that the times are few."""
LIKE_A_PLACE = re.compile(r"[0-9]{1,9}", re.ASCII)


@dataclass(frozen=True)
class Page:
    """Which page of a search: so many that could fit, and so many that do not, stand on the pages before.

    `others` None: those that do not fit are listed only where they are few.
    """

    fit: int = 0
    others: int | None = None

    @classmethod
    def asked_by(cls, query: Mapping[str, str]) -> "Page":
        """The page that an address asks for by `fit` and `others`; what is no whole number is the first one."""
        fit, others = (query.get(name, "") for name in ("fit", "others"))
        return cls(
            int(fit) if LIKE_A_PLACE.fullmatch(fit) else 0, int(others) if LIKE_A_PLACE.fullmatch(others) else None
        )


def found_for(site: Site, asked: GuestBooking, now: datetime, page: Page = Page()) -> FitsInOrder:
    """The bows for a booking or a walk-in."""
    return _search(site, Wanted(asked), now, page, None)


def instead_of(booking: Booking, now: datetime, page: Page = Page()) -> FitsInOrder:
    """The bows for a booking, its promised one first: who was promised a bow may be given another like it."""
    return _search(booking.site, wanted_by(booking, now), now, page, booking.bow)


def wanted_by(booking: Booking, now: datetime) -> Wanted:
    """What a booking asks for, its very bow left aside.

    Where it names its very bow and no other need, another of its kind, hand, draw length and weight is alike.
    """
    asked = replace(guest_booking(booking), bow=None)
    own = next(iter(candidates(booking.site, now, [booking.bow.pk])), None) if booking.bow else None
    if booking.hand or own is None:
        return Wanted(asked)
    # A recurve or a longbow has no draw length of its own: any draw up to its longest.
    length = sum(own.hire.draw_length_m) / 2 if own.hire.draw_length_m[0] else None
    like_it = replace(asked, hand=own.hire.hand, draw_length_m=length, peak_weight_n=own.hire.peak_weight_n)
    return Wanted(like_it, own.bow.spec_sheet.bow_kind)


def fits_of(site: Site, wanted: Wanted, now: datetime, bow_ids: Sequence[int] | None = None) -> list[BowFit]:
    """Bows of the site (these, or every one, which takes long where they are many) for a guest, all checked in full."""
    return judged(site, wanted, candidates(site, now, bow_ids), promised_then(site, wanted.asked, now), now)


def _search(site: Site, wanted: Wanted, now: datetime, page: Page, own: Bow | None) -> FitsInOrder:
    promised = promised_then(site, wanted.asked, now)
    could = could_serve(site, wanted, now, promised)
    if own is not None:
        could = could.exclude(pk=own.pk)

    def checked(ids: Sequence[int]) -> list[BowFit]:
        return judged(site, wanted, candidates(site, now, ids), promised, now)

    ids = list(could.values_list("pk", flat=True))
    first = [own.pk] if own is not None and page.fit == 0 else []
    # Who goes through those that do not fit has seen those that do.
    fits, end = _page_of_fits(ids, page.fit, first, FITS_A_PAGE if page.others is None else BEST_FEW, checked)
    others, beyond = _those_left(site, wanted, ids, own, page.others, checked)
    beyond = replace(beyond, fit=len(ids) - end, next_fit=end if end < len(ids) else None)
    few = BEST_FEW if page.fit == 0 else FITS_A_PAGE
    return in_order(sorted([*fits, *others], key=lambda one: len(one.why_not)), own, few, beyond)


def _page_of_fits(
    ids: Sequence[int], begin: int, first: Sequence[int], full: int, checked: Callable[[Sequence[int]], list[BowFit]]
) -> tuple[list[BowFit], int]:
    """Bows checked from the place `begin` on until `full` fit or none is left, `first` among them; the place then."""
    found: list[BowFit] = []
    end, size = begin, full
    while True:
        batch = ids[end : end + size]
        found += checked([*batch, *first] if not found else batch)
        end, size = end + len(batch), min(2 * size, MOST_AT_ONCE)
        if not batch or sum(one.fits for one in found) >= full:
            return found, end


def _those_left(
    site: Site,
    wanted: Wanted,
    could_serve_ids: Sequence[int],
    own: Bow | None,
    begin: int | None,
    checked: Callable[[Sequence[int]], list[BowFit]],
) -> tuple[list[BowFit], Beyond]:
    """Those that do not fit: listed where they are few or asked for, else counted by reason."""
    counts = _counts(site, wanted)
    count = counts["all"] - len(could_serve_ids) - (own is not None)
    if count > OTHERS_A_PAGE and begin is None:
        return [], Beyond(others=count, next_other=0, why_others=_why(counts, count))
    begin, known = begin or 0, {*could_serve_ids, *([own.pk] if own is not None else [])}
    left = (pk for pk in least_against(site, wanted).values_list("pk", flat=True) if pk not in known)
    ids = list(islice(left, begin, begin + OTHERS_A_PAGE))
    end = begin + len(ids)
    return checked(ids), Beyond(others=max(0, count - len(ids)), next_other=end if end < count else None)


def _counts(site: Site, wanted: Wanted) -> dict[str, int]:
    """How many bows there are in all, with each misfit of shape, and with any."""
    misfits = shape_misfits(wanted)
    any_of_them = Q(pk__in=[])
    for one in misfits.values():
        any_of_them |= one
    counted = {f"misfit{n}": Count("pk", filter=one) for n, one in enumerate(misfits.values())}
    rows = GuestBow.objects.filter(site=site)
    told = rows.aggregate(all=Count("pk"), misfits=Count("pk", filter=any_of_them), **counted)
    return {"all": told["all"], "misfits": told["misfits"]} | {
        name: told[f"misfit{n}"] for n, name in enumerate(misfits)
    }


def _why(counts: dict[str, int], others: int) -> tuple[tuple[str, int], ...]:
    shapes = [(say(name), count) for name, count in counts.items() if name not in ("all", "misfits") and count]
    of_its_shape = max(0, others - counts["misfits"])
    return (*shapes, *([(say("not ready, too worn or promised then"), of_its_shape)] if of_its_shape else []))


def reasons_of_none(site: Site, wanted: Wanted) -> str:
    """Why no bow at all fits, by how many bows each reason speaks against."""
    counts = _counts(site, wanted)
    if not counts["all"]:
        return say("the site has no bow.")
    why = [say("%(why)s on %(count)d", why=why, count=count) for why, count in _why(counts, counts["all"])]
    return say("no bow fits: of %(all)d, %(why)s.", all=counts["all"], why=joined(SEMICOLON, why))


def accept(site: Site, booking: Booking, bow: Bow, *, by: Person, now: datetime) -> Booking:
    """Promise a bow to a booking; refused where it does not fit, with every reason."""
    fit = next(iter(fits_of(booking.site, wanted_by(booking, now), now, [bow.pk])), None)
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
