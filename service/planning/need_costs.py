"""What a need costs on each day, in the site's currency, from the wear model's probabilities (planning.md).

Late: the chance that a cord is condemned meanwhile times what that costs, hires out of tolerance, and rental days
lost while the bow is held. Early: the share of the set's life, or of the interval between two checks, thrown away.
Pure: rows and arrays in, a `NeedCosts` out. The shares and days below are the house's: common practice, no source.
"""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from service.house import BENCH_WORK, SET_UP_MINUTES, SETTLE_IN_LONGEST_DAYS
from service.models import Need, NeedKind, TimingDrift
from service.planning.hires import BowAhead
from service.wear.arrays import Floats

MINUTES_PER_HOUR = 60
PUT_OFF_DAYS = 14
"""A need left out waits for the next plan: it is priced as done so many days after this one's end."""
LEAST_COST_OF_LEAVING_OUT = 0.01
"""Currency: of two plans that cost the same, the one that does the work; never worth a booking."""
RUSH_SHARE = 0.25
"""What a rushed order adds to the price of a set that is not on the shelf."""
LONGEST_WAIT_DAYS = 7
UNNOTICED_HIRES = 1
"""Rental days refunded when a cord that nobody looked at gives up in a guest's hands."""
OUT_OF_TOLERANCE_SHARE = 0.25
"""Share of a rental day's worth that a guest does not get from a bow out of tolerance."""
DRIFT_CHANCES = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class SitePrices:
    """The site's money: a rental day (1 where the site has set none, so that sooner is better), an hour of labour."""

    rental_day: float
    labour_hour: float
    inspection_days: int
    timing_grace_days: int
    guests_shoot_in: bool

    def labour(self, minutes: int) -> float:
        """Money for minutes at the bench."""
        return self.labour_hour * minutes / MINUTES_PER_HOUR


@dataclass(frozen=True)
class SetParts:
    """The set that a bow would get: its price, and the days until all of it is here (0: on the shelf)."""

    price: float
    wait_days: int


@dataclass(frozen=True)
class NeedCosts:
    """Lost by doing it on each day of the horizon, `early` or `late`; `unplaced`: what leaving it undone loses."""

    early: tuple[float, ...]
    late: tuple[float, ...]
    unplaced: float


@dataclass(frozen=True, eq=False)
class Days:
    """The plan's days and the PUT_OFF_DAYS after them, as day numbers."""

    first: date
    horizon: int

    @property
    def long(self) -> int:
        """Days to price: the horizon and what comes after it."""
        return self.horizon + PUT_OFF_DAYS

    def number(self, day: date) -> int:
        """Days since the plan's first day."""
        return (day - self.first).days


def costs_of(
    need: Need, bow: BowAhead, drift: TimingDrift | None, parts: SetParts, prices: SitePrices, days: Days
) -> NeedCosts:
    """The costs of one need; `drift`: of a timing check, the measurement that leaves its tolerance first."""
    late = _risk(need, bow, drift, parts, prices, days)
    held_from = held_after(need, prices, days)
    if held_from is not None:
        late = late + held_cost(bow, held_from, prices, days)
    early = np.zeros(days.long) if need.holds else _early(need, bow, drift, parts, prices, days)
    by_day = np.maximum.accumulate(late)
    return NeedCosts(
        early=tuple(early[: days.horizon].tolist()),
        late=tuple(by_day[: days.horizon].tolist()),
        unplaced=float(by_day[-1]) + LEAST_COST_OF_LEAVING_OUT,
    )


def held_after(need: Need, prices: SitePrices, days: Days) -> int | None:
    """The first day number on which the bow stays in because of this need (0: it does already); None: never."""
    if need.holds:
        return 0
    if need.kind == NeedKind.TIMING_CHECK:
        return max(0, days.number(need.due_on) + prices.timing_grace_days + 1)
    if need.kind == NeedKind.SETTLE_IN:
        return None if prices.guests_shoot_in else 0
    return None if need.latest_on is None else max(0, days.number(need.latest_on) + 1)


def held_cost(bow: BowAhead, held_from: int, prices: SitePrices, days: Days) -> Floats:
    """Rental days lost by each day, when the bow stays in from `held_from` until the work is done."""
    lost = np.where(np.arange(days.long) >= held_from, bow.hired, 0.0)
    return prices.rental_day * _before(lost)


def cost_of_condemned(parts: SetParts, prices: SitePrices) -> float:
    """What a cord found condemned costs beyond a planned change: rental days, a rushed order, a visit to the bench."""
    wait = min(max(parts.wait_days, 1), LONGEST_WAIT_DAYS)
    rush = RUSH_SHARE * parts.price if parts.wait_days > 0 else 0.0
    visit = SET_UP_MINUTES + BENCH_WORK[NeedKind.INCIDENT].minutes_compound
    return wait * prices.rental_day + rush + prices.labour(visit)


def settle_in_wait(bow: BowAhead, prices: SitePrices) -> float:
    """Money a day while a new set waits to be measured again: the bow stays in, or goes out with a warning."""
    share = OUT_OF_TOLERANCE_SHARE if prices.guests_shoot_in else 1.0
    return float(share * prices.rental_day * np.mean(bow.hired))


def settle_in_days(shots_per_day: float, shots: float, prices: SitePrices) -> tuple[int, int]:
    """First and last day after a new set on which to measure again: staff shoot it in at once, guests take longer."""
    if not prices.guests_shoot_in:
        return 1, SETTLE_IN_LONGEST_DAYS
    first = int(np.ceil(shots / shots_per_day)) if shots_per_day > 0.0 else SETTLE_IN_LONGEST_DAYS
    return min(max(first, 1), SETTLE_IN_LONGEST_DAYS), SETTLE_IN_LONGEST_DAYS


def _risk(
    need: Need, bow: BowAhead, drift: TimingDrift | None, parts: SetParts, prices: SitePrices, days: Days
) -> Floats:
    """Money lost to chance by each day, while the bow goes out undone."""
    if need.holds:
        return np.zeros(days.long)
    if need.kind == NeedKind.REPLACEMENT:
        return cost_of_condemned(parts, prices) * bow.condemned
    if need.kind == NeedKind.INSPECTION:
        unnoticed = cost_of_condemned(parts, prices) + UNNOTICED_HIRES * prices.rental_day
        return unnoticed * bow.condemned
    if need.kind == NeedKind.TIMING_CHECK:
        lost = chance_out(need, drift, days) * bow.hired
        return OUT_OF_TOLERANCE_SHARE * prices.rental_day * _before(lost)
    if need.kind == NeedKind.SETTLE_IN and prices.guests_shoot_in:
        return OUT_OF_TOLERANCE_SHARE * prices.rental_day * _before(bow.hired)
    return np.zeros(days.long)


def chance_out(need: Need, drift: TimingDrift | None, days: Days) -> Floats:
    """Chance that a measurement is out of tolerance on each day: straight lines through its 10, 50 and 90 % days.

    Without those days the need's own day is the 50 % day and nothing else is known: 0 before it, 1 after.
    """
    number = np.arange(days.long, dtype=np.float64)
    known = [] if drift is None else [drift.leaves_from, drift.leaves_on, drift.leaves_until]
    points = [(days.number(day), chance) for day, chance in zip(known, DRIFT_CHANCES, strict=False) if day is not None]
    # Two bounds on one day are one step: the later chance counts.
    at = dict(points)
    if not at:
        return (number > days.number(need.due_on)).astype(np.float64)
    return np.interp(number, list(at), list(at.values()), left=0.0)


def _early(
    need: Need, bow: BowAhead, drift: TimingDrift | None, parts: SetParts, prices: SitePrices, days: Days
) -> Floats:
    """What doing it on each day throws away: the set's remaining life, or a check's share of its interval."""
    if need.kind == NeedKind.REPLACEMENT:
        return parts.price * _life_left(need, bow, days)
    labour = prices.labour(need.minutes + SET_UP_MINUTES)
    ahead = np.maximum(0, days.number(need.due_on) - np.arange(days.long))
    if need.kind == NeedKind.INSPECTION:
        return labour * np.minimum(1.0, ahead / prices.inspection_days)
    if need.kind == NeedKind.TIMING_CHECK:
        return labour * np.minimum(1.0, ahead / _interval_days(need, bow))
    return np.zeros(days.long)


def _life_left(need: Need, bow: BowAhead, days: Days) -> Floats:
    """Share of the way to the replacement point that the cord which comes due first has still to go."""
    used = bow.life_used.get(need.fitting_id or 0)
    if used is None:
        return np.zeros(days.long)
    point = bow.wears[need.fitting_id or 0].replacement_point
    return np.asarray(np.maximum(0.0, 1.0 - used / point), dtype=np.float64)


def _interval_days(need: Need, bow: BowAhead) -> float:
    """Days from the last time that the bow's timing was set to the day on which the next check is due."""
    resets = [wear.reset_at.date() for wear in bow.wears.values()]
    since = max(resets, default=need.due_on - timedelta(days=1))
    return float(max(1, (need.due_on - since).days))


def _before(daily: Floats) -> Floats:
    """Sum over the days before each day."""
    return np.concatenate([[0.0], np.cumsum(daily)[:-1]])
