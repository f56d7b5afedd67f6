"""Who gets which bow at a site: worked out over all bookings of the coming days, kept, and brought up to date.

Working it out looks at many bows and may search for long, so that a page shows what was worked out last, each bow that
it shows checked anew. What has changed since is worked out anew each minute by the worker, and on the spot where the
bookings are few. A single booking that comes in meanwhile is given the best bow that nobody else has then.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import blake2s
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from fleet.models import AuditHead, Booking, Hire, Site
from fleet.vocabulary import WearChoice
from service.guest_models import ProposedBows
from service.guests.hire_bows import guest_booking
from service.guests.narrow import Wanted
from service.guests.pool import Pool
from service.guests.search import found_for, reasons_of_none
from service.instants import day_of
from service.plan.first_come import first_come
from service.plan.guests import GuestBooking, HireBow, clash
from service.plan.shortlist import shortlists
from service.said import heard, say, to_keep
from service.stock.shelf import saved_plan

SHOWN_DAYS = 14
ON_THE_SPOT = 15
"""A page works out so many bookings itself (some tenths of a second); more are the worker's."""
LEFT_ALONE_FOR = timedelta(minutes=5)
"""Where every booking is worked out, bows that come and go are left to the checks of the page for so long."""
WORKER_IS_AWAY = timedelta(minutes=15)
"""An answer out of date for longer waits for a worker that does not come: whoever opens the page works it out."""
SEARCH_EFFORT = 2.0


@dataclass(frozen=True)
class Line:
    """What was worked out for one booking: a bow's id, or why it goes without; `asked`: what it asked for then."""

    asked: str
    bow: int | None
    without: str


@dataclass(frozen=True)
class Proposed:
    """What was worked out last for a site. `made_from`: what it rests on; `lines`: by booking id."""

    made_at: datetime
    made_from: str
    most_served: bool
    lines: dict[int, Line]

    @property
    def choice(self) -> str:
        """How the site spread wear then."""
        return self.made_from.rpartition("|")[2]


def ahead(site: Site, now: datetime, days: int = SHOWN_DAYS) -> QuerySet[Booking]:
    """Bookings that are not over and begin in so many days, soonest first."""
    found = Booking.objects.filter(site=site, cancelled_at=None, end__gt=now, start__lt=now + timedelta(days=days))
    return found.order_by("start", "reference")


def bookings_ahead(site: Site, now: datetime) -> list[Booking]:
    """Those bookings with their bow and site."""
    return list(ahead(site, now).select_related("bow", "site"))


def out_now(site: Site) -> frozenset[int]:
    """The bookings whose bow is with the guest."""
    hires = Hire.objects.filter(booking__site=site, back_at=None)
    return frozenset(hires.values_list("booking_id", flat=True))


NEEDS = ("start", "end", "hand", "draw_length_m", "peak_weight_min_n", "peak_weight_max_n", "expected_shots")


def asked_by(booking: Booking) -> str:
    """What a booking asks for in few letters, the bow that it may have been promised left aside."""
    return asked_for(tuple(getattr(booking, name) for name in NEEDS))


def asked_for(needs: tuple[Any, ...]) -> str:
    """The same of the values of NEEDS."""
    start, end, *rest = needs
    text = f"{start.timestamp()}|{end.timestamp()}|{rest}"
    return blake2s(text.encode(), digest_size=8).hexdigest()


def facts_now(site: Site, now: datetime) -> str:
    """Changes whenever anything is recorded in the book, a plan is made, or a day begins."""
    head = AuditHead.objects.values_list("length", flat=True).first()
    plan = saved_plan(site, day_of(now, site.time_zone))
    made = "" if plan is None else f"{plan.pk} {plan.made_at.isoformat()}"
    return f"{head}|{day_of(now, site.time_zone)}|{made}|{site.wear_choice}"


def last_proposed(site: Site) -> Proposed | None:
    """What was worked out last."""
    kept = ProposedBows.objects.filter(site=site).first()
    if kept is None:
        return None
    lines = {
        int(pk): Line(one["asked"], one["bow"], heard(one["without"])) for pk, one in kept.lines.get("of", {}).items()
    }
    return Proposed(kept.made_at, kept.lines.get("made_from", ""), kept.most_served, lines)


def work_out(site: Site, now: datetime) -> Proposed:
    """Work out who gets which bow, and keep it."""
    facts = facts_now(site, now)
    out = out_now(site)
    waiting = {one.pk: one for one in bookings_ahead(site, now) if one.pk not in out}
    asked = {pk: guest_booking(one) for pk, one in waiting.items()}
    bow_of, without, most = _assigned(site, tuple(asked.values()), now)
    lines = {
        pk: Line(asked_by(one), bow_of.get(one.reference), without.get(one.reference, ""))
        for pk, one in waiting.items()
    }
    found = Proposed(now, facts, most, lines)
    _keep(site, found)
    return found


def _keep(site: Site, found: Proposed) -> None:
    of = {
        str(pk): {"asked": one.asked, "bow": one.bow, "without": to_keep(one.without)}
        for pk, one in found.lines.items()
    }
    values = {
        "made_at": found.made_at,
        "most_served": found.most_served,
        "lines": {"made_from": found.made_from, "of": of},
    }
    ProposedBows.objects.update_or_create(site=site, defaults=values)


def _assigned(
    site: Site, asked: tuple[GuestBooking, ...], now: datetime
) -> tuple[dict[str, int], dict[str, str], bool]:
    """Booking reference -> bow id; -> why none; and whether it is proven that no assignment serves more."""
    pool = Pool(site, now)
    level = site.wear_choice != WearChoice.OLDEST_FIRST
    first = first_come(asked, pool.offer, pool.today, level=level)
    some = shortlists(asked, [pool.offer(one) for one in asked], pool.today)
    lists = {one.reference: bows for one, bows in zip(asked, some, strict=True)}
    for reference, bow in first.items():
        if bow not in lists[reference]:
            lists[reference] = (*lists[reference], bow)
    without_any = {reference for reference, bows in lists.items() if not bows}
    few = len(asked) <= ON_THE_SPOT
    if few or len(first) + len(without_any) < len(asked):
        bow_of, without, most = _searched(site, asked, lists, first, pool, few=few)
    else:
        bow_of, without, most = {one: bow.id for one, bow in first.items()}, {}, True
    told = {one.reference: one for one in asked}
    # Why a very bow does not fit is said anew each time that the page is opened.
    without |= {ref: "" if told[ref].bow else reasons_of_none(site, Wanted(told[ref])) for ref in sorted(without_any)}
    return {reference: pool.ids[tag] for reference, tag in bow_of.items()}, without, most


def _searched(
    site: Site,
    asked: tuple[GuestBooking, ...],
    lists: dict[str, tuple[HireBow, ...]],
    first: dict[str, HireBow],
    pool: Pool,
    *,
    few: bool,
) -> tuple[dict[str, str], dict[str, str], bool]:
    # The solver takes a second to load, and most processes never ask it.
    from service.plan.assign import WearChoice as Spread
    from service.plan.assign import assign

    bows = {bow.id: bow for some in lists.values() for bow in some}
    spread = Spread.LEVEL if site.wear_choice != WearChoice.OLDEST_FIRST else Spread.OLDEST_FIRST
    known = {reference: bow.id for reference, bow in first.items()}
    among = {reference: frozenset(bow.id for bow in some) for reference, some in lists.items()}
    found = assign(
        asked, tuple(bows.values()), pool.today, spread, SEARCH_EFFORT, among=among, begin_with=known, spread=few
    )
    without = {one.booking: one.sentence for one in found.without}
    # As many were served at first sight, with the wear spread over more bows than the lists hold.
    if not few and len(found.bow_of) == len(known):
        return known, _told_again(asked, known, without), found.most_served
    return found.bow_of, without, found.most_served


def _told_again(asked: Sequence[GuestBooking], bow_of: dict[str, str], without: dict[str, str]) -> dict[str, str]:
    """Why each booking goes without that now does, in the words of the search where it has some."""
    return {
        one.reference: without.get(one.reference, say("the bows that fit go out with other bookings then."))
        for one in asked
        if one.reference not in bow_of
    }


def give_one(booking: Booking, now: datetime) -> None:
    """Give a booking that came in or was changed the best bow that nobody else has then, until all is worked out anew.

    Where none is free it stays open: another order may serve it.
    """
    site, kept = booking.site, last_proposed(booking.site)
    if kept is None or booking.bow is not None or booking.start >= now + timedelta(days=SHOWN_DAYS):
        return
    asked = guest_booking(booking)
    others = [one for one in bookings_ahead(site, now) if one.pk != booking.pk and clash(asked, guest_booking(one))]
    taken = {one.bow_id or (kept.lines[one.pk].bow if one.pk in kept.lines else None) for one in others}
    found = found_for(site, asked, now)
    free = next((one.bow.pk for one in (*found.best, *found.further) if one.bow.pk not in taken), None)
    with transaction.atomic():
        row = ProposedBows.objects.select_for_update().get(site=site)
        before = row.lines["of"].pop(str(booking.pk), None)
        if free is not None:
            row.lines["of"][str(booking.pk)] = {"asked": asked_by(booking), "bow": free, "without": ""}
        # One booking more can raise the most that can be served by one; one that was changed may have freed a bow.
        row.most_served = row.most_served and before is None and free is not None
        row.save(update_fields=["lines", "most_served"])


def keep_up(site: Site, now: datetime) -> bool:
    """Work a site's bookings out anew if anything changed; returns whether it did.

    A booking that is still open is worked out at once; bows that come and go, every few minutes.
    """
    out = out_now(site)
    rows = [row for row in ahead(site, now).values_list("pk", *NEEDS) if row[0] not in out]
    kept = last_proposed(site)
    if not rows:
        return False
    if kept is not None:
        is_open = any(row[0] not in kept.lines or kept.lines[row[0]].asked != asked_for(row[1:]) for row in rows)
        lately = now - kept.made_at < LEFT_ALONE_FOR
        if not is_open and (lately or kept.made_from == facts_now(site, now)):
            return False
    work_out(site, now)
    return True


def keep_all_up(now: datetime) -> int:
    """The same for every site; returns at how many it was worked out."""
    return sum(keep_up(site, now) for site in Site.objects.order_by("pk"))
