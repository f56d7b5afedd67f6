"""The register's bows and bookings as the pure package takes them: what fits whom, and how worn it will be.

A bow fits as it is set up now: what it could be set to is bench work. A compound's draw length fits within the house's
tolerance; a recurve or a longbow has no draw stop and fits up to the longest draw on its spec sheet.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from fleet.models import Booking, Bow, SetUp, Site
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, BowKind
from service.gather import Coefficients, coefficients
from service.guests.readiness import Readiness, readiness_of
from service.instants import day_of
from service.models import CordWear, StaleBow
from service.plan.guests import GuestBooking, HireBow, Range

# Common practice, no source: draw length +-1/4 in, peak weight +-2 lb.
DRAW_LENGTH_TOLERANCE_M = 0.25 * 0.0254
PEAK_WEIGHT_TOLERANCE_N = 2 * 4.4482216152605
ANY_LENGTH: Range = (0.0, 0.0)


@dataclass(frozen=True)
class Candidate:
    """A bow for guests: as the pure package sees it, and what its ready days rest on."""

    bow: Bow
    hire: HireBow
    ready: Readiness


def candidates(site: Site, now: datetime) -> tuple[Candidate, ...]:
    """Every bow of the site that is in service, by tag. Its wear is as last computed."""
    bows = list(Bow.objects.filter(site=site, retirement=None).select_related("site", "spec_sheet").order_by("tag"))
    ready = readiness_of(site, bows, now)
    wears: dict[int, list[CordWear]] = defaultdict(list)
    rows = CordWear.objects.filter(fitting__bow__in=bows, fitting__removed_at=None)
    for wear in rows.select_related("fitting__cord__spec"):
        wears[wear.fitting.bow_id].append(wear)
    waiting = set(StaleBow.objects.filter(bow__in=bows).values_list("bow_id", flat=True))
    set_ups = _set_ups(bows, now)
    tables = coefficients()
    found = []
    for bow in bows:
        if bow.pk in waiting or len(wears[bow.pk]) < len(POSITIONS_BY_CAM_SYSTEM[bow.spec_sheet.cam_system]):
            ready[bow.pk].never("the wear of its cords is not computed for what the book knows now")
        found.append(_candidate(bow, set_ups.get(bow.pk), ready[bow.pk], wears[bow.pk], tables))
    return tuple(found)


def _set_ups(bows: Sequence[Bow], now: datetime) -> dict[int, SetUp]:
    """The set-up of each bow in force now; its first one where none has begun yet."""
    found: dict[int, SetUp] = {}
    for one in SetUp.objects.filter(bow__in=bows).order_by("bow", "since"):
        if one.bow_id not in found or one.since <= now:
            found[one.bow_id] = one
    return found


def _candidate(
    bow: Bow, set_up: SetUp | None, ready: Readiness, wears: list[CordWear], tables: Coefficients
) -> Candidate:
    if set_up is None:
        ready.never("no set-up on record: record its draw length and peak weight")
    used, per_shot, per_day = _envelope(wears, set_up.peak_weight_n if set_up else None, tables)
    sheet = bow.spec_sheet
    lengths = ANY_LENGTH
    if set_up is not None:
        own = set_up.draw_length_m
        lengths = (own - DRAW_LENGTH_TOLERANCE_M, own + DRAW_LENGTH_TOLERANCE_M)
    if sheet.bow_kind != BowKind.COMPOUND:
        lengths = (0.0, sheet.draw_length_max_m + DRAW_LENGTH_TOLERANCE_M)
    weight = set_up.peak_weight_n if set_up else 0.0
    hire = HireBow(
        id=bow.tag,
        hand=bow.hand,
        draw_length_m=lengths,
        peak_weight_n=(weight - PEAK_WEIGHT_TOLERANCE_N, weight + PEAK_WEIGHT_TOLERANCE_N),
        life_used=used,
        life_per_shot=per_shot,
        life_per_day=per_day,
        life_limit=1.0,
        ready_from=ready.first,
        ready_until=ready.last,
        busy=tuple(ready.busy),
        new_set_on=ready.new_set_on,
    )
    return Candidate(bow, hire, ready)


def _envelope(
    wears: Sequence[CordWear], peak_weight_n: float | None, tables: Coefficients
) -> tuple[float, float, float]:
    """Life used, per shot and per day as shares of the replacement point: of each the worst among the bow's cords.

    The worst of each may belong to different cords: the bow is taken to wear no slower than any of them.
    """
    used = per_shot = per_day = 0.0
    for wear in wears:
        point = max(wear.replacement_point, 1e-9)
        used = max(used, wear.life_used / point)
        per_shot = max(per_shot, _life_per_shot(wear, peak_weight_n, tables) / point)
        per_day = max(per_day, wear.life_per_day / point)
    return used, per_shot, per_day


def _life_per_shot(wear: CordWear, peak_weight_n: float | None, tables: Coefficients) -> float:
    """Share of rated life that one shot takes at the bow's peak weight: (w / w_rated)^m / N_rated."""
    spec = wear.fitting.cord.spec
    weight = 1.0
    if peak_weight_n is not None and spec.rated_peak_weight_n:
        exponent = tables.of(spec.pk)["load_exponent"].value
        weight = (peak_weight_n / spec.rated_peak_weight_n) ** exponent
    return weight / spec.rated_shots


def guest_booking(booking: Booking) -> GuestBooking:
    """A booking as the pure package takes it; one that ends at midnight does not take the day that begins there."""
    zone = booking.site.time_zone
    low, high = booking.peak_weight_min_n, booking.peak_weight_max_n
    return GuestBooking(
        reference=booking.reference,
        first=day_of(booking.start, zone),
        last=day_of(booking.end - timedelta(microseconds=1), zone),
        shots=float(booking.expected_shots),
        hand=booking.hand or None,
        draw_length_m=booking.draw_length_m,
        peak_weight_n=None if low is None and high is None else (low or 0.0, high or float("inf")),
        bow=booking.bow.tag if booking.bow else None,
        hours=(booking.start, booking.end),
    )
