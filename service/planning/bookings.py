"""Bookings as the plan sees them: days on which a bow is out, promised by name, or the last one that fits a guest."""

from collections import defaultdict
from collections.abc import Sequence, Set
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import islice

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from fleet import lookups
from fleet.models import Booking, Bow, Hire, Site, SpecSheet
from fleet.vocabulary import BowState
from service.instants import day_of, end_of, last_day_until, start_of
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
    """First and last calendar day."""
    return day_of(booking.start, zone), last_day_until(booking.end, zone)


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
    if not by_day:
        return []
    makes = _ready_by_make(site)
    wanted = {bow.pk: bow.tag for bow in bows}
    found = []
    for day in (day for day in horizon if day in by_day):
        for bow_id in indispensable(by_day[day], makes, taken[day]):
            if bow_id in wanted:
                name = f"any bow {day} {wanted[bow_id]}"
                found.append(Promise(name, wanted[bow_id], day, day, rental_day, away=False))
    return found


@dataclass(frozen=True)
class Make:
    """Bows that can be set alike, whatever a guest asks for: those of one spec sheet and hand, by id."""

    hand: str
    sheet: SpecSheet
    bows: tuple[int, ...]


def _ready_by_make(site: Site) -> list[Make]:
    """The bows of a site that guests have or may have."""
    states = (BowState.READY, BowState.OUT)
    ready = lookups.with_state(Bow.objects.filter(site=site)).filter(state__in=states)
    bows_of: dict[tuple[str, int], list[int]] = defaultdict(list)
    for bow, hand, sheet in ready.order_by("pk").values_list("pk", "hand", "spec_sheet"):
        bows_of[hand, sheet].append(bow)
    sheets = SpecSheet.objects.in_bulk({sheet for _hand, sheet in bows_of})
    return [Make(hand, sheets[sheet], tuple(bows)) for (hand, sheet), bows in bows_of.items()]


def indispensable(guests: list[Booking], makes: Sequence[Make], taken: Set[int]) -> list[int]:
    """Ids of the bows without which fewer of the guests can be served; `taken`: bows that others have.

    One largest matching tells it: a bow can be spared if a chain of swaps, each guest taking the bow of the next,
    leads from a bow that nobody has to it (Dulmage and Mendelsohn, 1958).
    """
    there: list[int] = []
    make_of: list[int] = []
    for number, make in enumerate(makes):
        # More bows alike than guests: one of them is always left, and more of them change nothing.
        some = islice((bow for bow in make.bows if bow not in taken), len(guests) + 1)
        there += some
        make_of += [number] * (len(there) - len(make_of))
    of_makes = [[fits_guest(make.hand, make.sheet, guest) for make in makes] for guest in guests]
    fits = np.array(of_makes, dtype=np.int8).reshape(len(guests), len(makes))[:, make_of]
    if not fits.any():
        return []
    bow_of = np.asarray(maximum_bipartite_matching(csr_matrix(fits), perm_type="column"))
    needed = set(bow_of[bow_of >= 0].tolist())
    spared = [column for column in range(len(there)) if column not in needed]
    while spared:
        columns, spared = spared, []
        for guest in np.flatnonzero(fits[:, columns].any(axis=1)):
            if bow_of[guest] in needed:
                needed.remove(bow_of[guest])
                spared.append(int(bow_of[guest]))
    return [there[column] for column in sorted(needed)]


def fits_guest(hand: str, sheet: SpecSheet, guest: Booking) -> bool:
    """Whether a bow can be set to what a guest asked for: hand, draw length, peak weight. Nothing asked fits all."""
    if guest.hand and guest.hand != hand:
        return False
    draw = guest.draw_length_m
    if draw is not None and not sheet.draw_length_min_m <= draw <= sheet.draw_length_max_m:
        return False
    low = -np.inf if guest.peak_weight_min_n is None else guest.peak_weight_min_n
    high = np.inf if guest.peak_weight_max_n is None else guest.peak_weight_max_n
    return bool(low <= sheet.peak_weight_max_n and sheet.peak_weight_min_n <= high)
