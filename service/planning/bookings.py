"""Bookings as the plan sees them: days on which a bow is out, promised by name, or the last one that fits a guest."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime, timedelta

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from fleet import lookups
from fleet.models import Booking, Bow, Hire, Site
from fleet.vocabulary import BowState
from service.instants import day_of, end_of, start_of
from service.plan.problem import Booking as Promise


def promises(
    site: Site, bows: Sequence[Bow], held: frozenset[int], horizon: tuple[date, ...], rental_day: float, now: datetime
) -> tuple[Promise, ...]:
    """What stands in the way of work on these bows; breaking a promise costs its rental days.

    A bow that is held (`held`, by id) cannot go out anyway: what that loses is in its needs' own costs.
    """
    booked = _bookings(site, horizon)
    by_name = [one for one in booked if one.bow_id is not None]
    free = [bow for bow in bows if bow.pk not in held]
    return (
        *_out_now(bows, horizon, site.time_zone, now),
        *_by_name(by_name, free, horizon, site.time_zone, rental_day),
        *_last_that_fits(site, booked, free, horizon, rental_day),
    )


def _bookings(site: Site, horizon: tuple[date, ...]) -> list[Booking]:
    """Bookings of the site that touch the horizon and are not out already, the earliest first."""
    first, after = start_of(horizon[0], site.time_zone), end_of(horizon[-1], site.time_zone)
    touching = Booking.objects.filter(site=site, cancelled_at=None, end__gt=first, start__lt=after)
    out = Hire.objects.exclude(booking=None).values("booking")
    return list(touching.exclude(pk__in=out).order_by("start", "reference"))


def _days_of(booking: Booking, zone: str) -> tuple[date, date]:
    """First and last calendar day; one that ends at midnight does not take the day that begins there."""
    return day_of(booking.start, zone), day_of(booking.end - timedelta(microseconds=1), zone)


def _out_now(bows: Sequence[Bow], horizon: tuple[date, ...], zone: str, now: datetime) -> list[Promise]:
    """Bows with a guest: no work is possible until the day after they are expected back (today, if nobody said)."""
    tags = {bow.pk: bow.tag for bow in bows}
    found = []
    for hire in Hire.objects.filter(bow__in=list(tags), back_at=None).select_related("booking"):
        back = day_of(now, zone)
        if hire.booking is not None:
            back = max(back, _days_of(hire.booking, zone)[1])
        first = min(horizon[0], back)
        found.append(Promise(f"out {tags[hire.bow_id]}", tags[hire.bow_id], first, back, 0.0, away=True))
    return found


def _by_name(
    booked: list[Booking], bows: Sequence[Bow], horizon: tuple[date, ...], zone: str, rental_day: float
) -> list[Promise]:
    tags = {bow.pk: bow.tag for bow in bows}
    found = []
    for one in booked:
        if one.bow_id in tags:
            first, last = _days_of(one, zone)
            worth = rental_day * ((last - first).days + 1)
            found.append(Promise(one.reference, tags[one.bow_id], first, last, worth, away=False))
    return found


def _last_that_fits(
    site: Site, booked: list[Booking], bows: Sequence[Bow], horizon: tuple[date, ...], rental_day: float
) -> list[Promise]:
    """Days on which the guests booked for any bow that fits could not all be served if this bow were on the bench."""
    any_bow = [one for one in booked if one.bow_id is None]
    if not any_bow:
        return []
    states = (BowState.READY, BowState.OUT)
    bows_here = lookups.with_state(Bow.objects.filter(site=site)).filter(state__in=states)
    ready = list(bows_here.select_related("spec_sheet"))
    by_day: dict[date, list[Booking]] = defaultdict(list)
    taken: dict[date, set[int]] = defaultdict(set)
    for one in booked:
        first, last = _days_of(one, site.time_zone)
        for ahead in range((last - first).days + 1):
            day = first + timedelta(days=ahead)
            if one.bow_id is None:
                by_day[day].append(one)
            else:
                taken[day].add(one.bow_id)
    wanted = {bow.pk: bow.tag for bow in bows}
    found = []
    for day in (day for day in horizon if day in by_day):
        there = [bow for bow in ready if bow.pk not in taken[day]]
        for bow_id in _indispensable(by_day[day], there):
            if bow_id in wanted:
                name = f"any bow {day} {wanted[bow_id]}"
                found.append(Promise(name, wanted[bow_id], day, day, rental_day, away=False))
    return found


def _indispensable(guests: list[Booking], bows: list[Bow]) -> list[int]:
    """Bows without which fewer of the guests can be served (maximum matching with and without each)."""
    fits = np.array([[fits_guest(bow, guest) for bow in bows] for guest in guests], dtype=np.int8)
    if not fits.any():
        return []
    bow_of = _matched(fits)
    served = int(np.count_nonzero(bow_of >= 0))
    found = []
    # A bow that one best matching leaves out can always be spared.
    for column in sorted({int(bow) for bow in bow_of if bow >= 0}):
        without = fits.copy()
        without[:, column] = 0
        if np.count_nonzero(_matched(without) >= 0) < served:
            found.append(bows[column].pk)
    return found


def _matched(fits: np.ndarray[tuple[int, ...], np.dtype[np.int8]]) -> np.ndarray[tuple[int], np.dtype[np.int32]]:
    return np.asarray(maximum_bipartite_matching(csr_matrix(fits), perm_type="column"))


def fits_guest(bow: Bow, guest: Booking) -> bool:
    """Whether a bow can be set to what a guest asked for: hand, draw length, peak weight. Nothing asked fits all."""
    sheet = bow.spec_sheet
    if guest.hand and guest.hand != bow.hand:
        return False
    draw = guest.draw_length_m
    if draw is not None and not sheet.draw_length_min_m <= draw <= sheet.draw_length_max_m:
        return False
    low = -np.inf if guest.peak_weight_min_n is None else guest.peak_weight_min_n
    high = np.inf if guest.peak_weight_max_n is None else guest.peak_weight_max_n
    return bool(low <= sheet.peak_weight_max_n and sheet.peak_weight_min_n <= high)
