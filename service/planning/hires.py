"""The days ahead as the plan prices them: how likely each bow is out with a guest, and how worn its cords will be.

Day 0 is the plan's first day. "By day d" is by its morning: what the days before it have done.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from fleet.models import Booking, Bow, Site
from service.forecast.ahead import shots_ahead
from service.instants import day_of, last_day_until
from service.learned import planning_lives, prior_life
from service.models import CordWear
from service.use_ahead import mean_shots_per_day, use_ahead
from service.wear.arrays import Flags, Floats, Ints
from service.wear.coefficients import DEFAULTS
from service.wear.weibull import WeibullLife


@dataclass(frozen=True, eq=False)
class BowAhead:
    """One bow, arrays (days,): chance of a hire on each day (a booked day is certain); chance that a cord good now
    is condemned by each day; life used by each cord (by fitting) by each day."""

    hired: Floats
    condemned: Floats
    life_used: dict[int, Floats]
    wears: dict[int, CordWear]


def bows_ahead(
    site: Site,
    bows: Sequence[Bow],
    wears: Sequence[CordWear],
    first_day: date,
    days: int,
    now: datetime,
    use_factor: float = 1.0,
) -> dict[int, BowAhead]:
    """Every bow by id, from what was last learned of its use; `use_factor` multiplies chance hires (a what-if)."""
    if not bows:
        return {}
    today = day_of(now, site.time_zone)
    # Morning of each planned day, as days from today; a plan that begins in the past sees today's state there.
    mornings = np.clip(np.arange(days) + (first_day - today).days, 0, None)
    use = use_ahead(site, bows, today, int(mornings[-1]) + 1, use_factor)
    chance = -np.expm1(-use.belief.mean[:, None] * use.open_exposure())
    taken = np.concatenate([np.zeros((len(bows), 1)), shots_ahead(use).mean], axis=1)[:, mornings]
    booked = _booked(site, bows, first_day, days)
    per_shot = _weights(site, bows, now) * use_factor
    by_bow: dict[int, list[CordWear]] = defaultdict(list)
    for wear in wears:
        by_bow[wear.fitting.bow_id].append(wear)
    lives = planning_lives()
    found = {}
    for i, bow in enumerate(bows):
        hired = np.where(booked[i], 1.0, np.broadcast_to(chance, (len(bows), chance.shape[1]))[i, mornings])
        used = {w.fitting_id: _life_by(w, taken[i], mornings, per_shot[i]) for w in by_bow[bow.pk]}
        found[bow.pk] = BowAhead(
            hired, _condemned(by_bow[bow.pk], used, lives, days), used, {w.fitting_id: w for w in by_bow[bow.pk]}
        )
    return found


def _weights(site: Site, bows: Sequence[Bow], now: datetime) -> Floats:
    """Mean shots a day as the wear rows counted them, without the weight of the set-up; nan: nothing was learned."""
    ids = np.array([bow.pk for bow in bows], dtype=np.int64)
    mean = mean_shots_per_day(ids, np.full(ids.size, site.pk, dtype=np.int64), now)
    return np.where(mean > 0.0, mean, np.nan)


def _life_by(wear: CordWear, taken: Floats, mornings: Ints, mean_shots: float) -> Floats:
    """Life used by each morning: shots by the forecast of the very days, time and heat at their present rate."""
    spec = wear.fitting.cord.spec
    weight = 1.0 if np.isnan(mean_shots) else wear.shots_per_day / mean_shots
    by_time = max(0.0, wear.life_per_day - wear.shots_per_day / spec.rated_shots)
    return np.asarray(wear.life_used + taken * weight / spec.rated_shots + by_time * mornings, dtype=np.float64)


def _condemned(wears: Sequence[CordWear], used: dict[int, Floats], lives: dict[int, WeibullLife], days: int) -> Floats:
    """1 - product over the cords of R(by day) / R(now): the chance that any of a set that is good now fails by then."""
    hazard = np.zeros(days)
    for wear in wears:
        life = lives.get(wear.fitting.cord.spec_id) or prior_life(DEFAULTS["weibull_shape"].value)
        now = max(wear.life_used, 0.0)
        hazard = hazard + life.cumulative_hazard(np.maximum(used[wear.fitting_id], now)) - life.cumulative_hazard(now)
    return np.asarray(-np.expm1(-hazard), dtype=np.float64)


def _booked(site: Site, bows: Sequence[Bow], first_day: date, days: int) -> Flags:
    """Days on which each bow is booked by name, (bows, days)."""
    index = {bow.pk: i for i, bow in enumerate(bows)}
    found = np.zeros((len(bows), days), dtype=np.bool_)
    for booking in Booking.objects.filter(bow__in=list(index), cancelled_at=None):
        first = (day_of(booking.start, site.time_zone) - first_day).days
        last = (last_day_until(booking.end, site.time_zone) - first_day).days
        if booking.bow_id is not None and last >= 0:
            found[index[booking.bow_id], max(first, 0) : last + 1] = True
    return found
