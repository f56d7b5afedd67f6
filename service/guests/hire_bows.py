"""The register's bows and bookings as the pure package takes them: what fits whom, and how worn it will be."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from fleet.models import Booking, Bow, SetUp, Site
from service.gather import Coefficients, coefficients
from service.guests.readiness import Readiness, readiness_of
from service.guests.shapes import envelope, has_all_wear, lengths_of, set_ups_of, weights_of
from service.instants import day_of, last_day_until
from service.models import CordWear, StaleBow
from service.plan.guests import GuestBooking, HireBow


@dataclass(frozen=True)
class Candidate:
    """A bow for guests: as the pure package sees it, and what its ready days rest on."""

    bow: Bow
    hire: HireBow
    ready: Readiness


def candidates(site: Site, now: datetime, bow_ids: Iterable[int] | None = None) -> tuple[Candidate, ...]:
    """Bows of the site that are in service (of these, or all), by tag. Their wear is as last computed.

    This is the full check, some milliseconds for ten bows: a search of a large fleet asks it of a few bows at a time.
    """
    there = Bow.objects.filter(site=site, retirement=None).select_related("site", "spec_sheet").order_by("tag")
    bows = list(there if bow_ids is None else there.filter(pk__in=set(bow_ids)))
    if not bows:
        return ()
    ids = [bow.pk for bow in bows]
    ready = readiness_of(site, bows, now)
    wears: dict[int, list[CordWear]] = defaultdict(list)
    rows = CordWear.objects.filter(fitting__bow__in=ids, fitting__removed_at=None)
    for wear in rows.select_related("fitting__cord__spec").defer("reason", "replace_basis", "inspect_reason"):
        wears[wear.fitting.bow_id].append(wear)
    waiting = set(StaleBow.objects.filter(bow__in=ids).values_list("bow_id", flat=True))
    set_ups = set_ups_of(bows, now)
    tables = coefficients()
    found = []
    for bow in bows:
        if bow.pk in waiting or not has_all_wear(bow, wears[bow.pk]):
            ready[bow.pk].never("the wear of its cords is not computed for what the book knows now")
        found.append(_candidate(bow, set_ups.get(bow.pk), ready[bow.pk], wears[bow.pk], tables))
    return tuple(found)


def _candidate(
    bow: Bow, set_up: SetUp | None, ready: Readiness, wears: list[CordWear], tables: Coefficients
) -> Candidate:
    if set_up is None:
        ready.never("no set-up on record: record its draw length and peak weight")
    worn = envelope(wears, set_up, tables)
    hire = HireBow(
        id=bow.tag,
        hand=bow.hand,
        draw_length_m=lengths_of(bow, set_up),
        peak_weight_n=weights_of(set_up),
        life_used=worn.used,
        life_per_shot=worn.per_shot,
        life_per_day=worn.per_day,
        life_limit=1.0,
        ready_from=ready.first,
        ready_until=ready.last,
        busy=tuple(ready.busy),
        new_set_on=ready.new_set_on,
    )
    return Candidate(bow, hire, ready)


def guest_booking(booking: Booking) -> GuestBooking:
    """A booking as the pure package takes it."""
    zone = booking.site.time_zone
    low, high = booking.peak_weight_min_n, booking.peak_weight_max_n
    return GuestBooking(
        reference=booking.reference,
        first=day_of(booking.start, zone),
        last=last_day_until(booking.end, zone),
        shots=float(booking.expected_shots),
        hand=booking.hand or None,
        draw_length_m=booking.draw_length_m,
        peak_weight_n=None if low is None and high is None else (low or 0.0, high or float("inf")),
        bow=booking.bow.tag if booking.bow else None,
        hours=(booking.start, booking.end),
    )
