"""Use ahead: the rhythm of a site and each bow's habit, learned from its shots; then the shots to come."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
from django.db import transaction
from django.db.models import Q

from fleet.lookups import last_fact
from fleet.models import Booking, Bow, Shots, Site
from service.calibrations import save_calibration
from service.columns import columns, indices_of
from service.forecast.ahead import UseAhead
from service.forecast.calibration import FORECAST_DAYS, CalibrationReport, hold_back
from service.forecast.pattern import Calendar, UsePattern, calendar_from, even_pattern
from service.forecast.rates import GroupRate, RateBelief
from service.forecast.shots import HouseShots, SessionShots
from service.forecast.use import LearnedUse, UseHistory, learn_use
from service.instants import SECONDS_PER_DAY, day_of, epoch_s, start_of
from service.models import BowUse, SiteUse
from service.wear.arrays import Flags, Floats, Ints

HISTORY_DAYS = 730
YEAR_DAYS = 365
HELD_BACK_WINDOWS = 12
# Entries of a bow this close together are one session: a counter posts every few minutes.
SESSION_GAP_S = 45 * 60.0
BATCH = 500


def learn_site_use(site: Site, now: datetime) -> None:
    """Learn a site's rhythm and each of its bows' habits anew from its history, and hold the forecast against it.

    The history is read once for both: bows that are retired teach nothing of the days ahead, but the forecast was made
    for them too.
    """
    first, read_to = first_day_of_use(site, now), last_fact()
    bows = list(Bow.objects.filter(site=site).order_by("pk"))
    sessions = _sessions(bows, site, first)
    retired = set(Bow.objects.filter(site=site).exclude(retirement=None).values_list("pk", flat=True))
    in_use = np.array([bow.pk not in retired for bow in bows], dtype=np.bool_)
    learned = learn_use(_history(site, bows, sessions, first, in_use))
    calibration = _calibration(_history(site, bows, sessions, first))
    with transaction.atomic():
        _save(site, now, [bow for bow in bows if bow.pk not in retired], learned)
        save_calibration(site, calibration, now, read_to)


def first_day_of_use(site: Site, now: datetime) -> date:
    """The first day whose use is still learned from."""
    return day_of(now, site.time_zone) - timedelta(days=HISTORY_DAYS)


@dataclass(frozen=True, eq=False)
class _Sessions:
    """Hire sessions by bow: index of the bow, index of the day, shots, each (rows,)."""

    bow: Ints
    day: Ints
    shots: Floats


def history_of_use(site: Site, bows: Sequence[Bow], first: date) -> UseHistory:
    """Hire sessions of some bows of a site over the days that the book covers, from `first` at the earliest."""
    return _history(site, bows, _sessions(bows, site, first), first)


def _history(
    site: Site, bows: Sequence[Bow], sessions: _Sessions, first: date, among: Flags | None = None
) -> UseHistory:
    """The history of all these bows, or of those that `among` (n,) marks."""
    entered = np.array([(one.in_service_on - first).days for one in bows], dtype=np.int64)
    if among is not None:
        kept = among[sessions.bow]
        number = np.cumsum(among) - 1
        sessions = _Sessions(number[sessions.bow[kept]], sessions.day[kept], sessions.shots[kept])
        entered = entered[among]
    # The book may begin later than the bows: before its first session nothing was recorded.
    begin = int(sessions.day.min()) if sessions.day.size else HISTORY_DAYS - 1
    calendar = calendar_of(site, first, HISTORY_DAYS).between(begin, HISTORY_DAYS)
    return UseHistory(
        calendar, sessions.bow, sessions.day - begin, sessions.shots, np.maximum(entered - begin, 0).astype(np.int64)
    )


def _sessions(bows: Sequence[Bow], site: Site, first: date) -> _Sessions:
    """The sessions of some bows from a day on."""
    since = start_of(first, site.time_zone)
    rows = Shots.objects.filter(superseded_at=None, bow__in=[bow.pk for bow in bows], start__gte=since)
    bow_id, count, start, end = columns(rows, "bow_id", "count", start="start", end="end")
    bow = indices_of(bow_id, {one.pk: i for i, one in enumerate(bows)})
    order = np.lexsort((start, bow))
    bow, count, start, end = bow[order], count[order], start[order], end[order]
    begins = np.ones(bow.size, dtype=np.bool_)
    begins[1:] = (bow[1:] != bow[:-1]) | (start[1:] - end[:-1] > SESSION_GAP_S)
    session = np.cumsum(begins) - 1
    shots: Floats = np.bincount(session, count).astype(np.float64) if bow.size else np.zeros(0)
    day = ((start[begins] - epoch_s(since)) // SECONDS_PER_DAY).astype(np.int64)
    kept = (shots > 0) & (day < HISTORY_DAYS)
    return _Sessions(bow[begins][kept], day[kept], shots[kept])


def calendar_of(site: Site, first: date, days: int) -> Calendar:
    """Open days of a site."""
    closed = frozenset(site.closed_days.values_list("day", flat=True))
    return calendar_from(first, days, frozenset(site.opening_weekdays or range(7)), closed)


def _save(site: Site, now: datetime, bows: Sequence[Bow], learned: LearnedUse) -> None:
    shots = learned.shots
    SiteUse.objects.update_or_create(
        site=site,
        defaults={
            "learned_at": now,
            "weekday": learned.pattern.weekday.tolist(),
            "season": learned.pattern.season.tolist(),
            "season_learned": learned.pattern.season_learned,
            "group_mean": learned.group.mean,
            "group_worth_days": learned.group.worth_days,
            "shots_mean": float(np.mean(shots.mean)) if bows else HouseShots().mean,
            "shots_relative_sd": shots.relative_sd,
            "clumping": learned.clumping,
        },
    )
    BowUse.objects.filter(bow__site=site).delete()
    BowUse.objects.bulk_create(
        (
            BowUse(
                bow=bow,
                shape=float(learned.belief.shape[i]),
                inverse_scale=float(learned.belief.inverse_scale[i]),
                shots_mean=float(shots.mean[i]),
                shots_mean_relative_sd=float(shots.mean_relative_sd[i]),
            )
            for i, bow in enumerate(bows)
        ),
        batch_size=BATCH,
    )


def calibration_of(site: Site, now: datetime) -> CalibrationReport | None:
    """The forecast held against the site's last months, one 30-day window after the other; None with too little."""
    bows = list(Bow.objects.filter(site=site).order_by("pk"))
    return _calibration(history_of_use(site, bows, first_day_of_use(site, now)))


def _calibration(history: UseHistory) -> CalibrationReport | None:
    cuts = list(range(history.calendar.days - FORECAST_DAYS, FORECAST_DAYS - 1, -FORECAST_DAYS))[:HELD_BACK_WINDOWS]
    return hold_back(history, cuts) if cuts and history.bows else None


def mean_shots_per_day(bow_ids: Ints, site_ids: Ints, now: datetime) -> Floats:
    """Shots a day of each bow over the coming year by what was last learned of it; 0 where nothing was learned."""
    habits = BowUse.objects.filter(bow__in=bow_ids.tolist()) if bow_ids.size < BATCH else BowUse.objects.all()
    known, shape, inverse_scale, shots = columns(habits, "bow_id", "shape", "inverse_scale", "shots_mean")
    known_here = np.isin(known, bow_ids)
    per_open_day = np.zeros(bow_ids.size)
    rows = indices_of(known[known_here], {pk: i for i, pk in enumerate(bow_ids.tolist())})
    per_open_day[rows] = (shape / inverse_scale * shots)[known_here]
    sites, which = np.unique(site_ids, return_inverse=True)
    by_id = Site.objects.in_bulk(sites.tolist())
    exposure = [_mean_exposure(by_id[pk], day_of(now, by_id[pk].time_zone)) for pk in sites.tolist()]
    return per_open_day * np.array(exposure, dtype=np.float64)[which]


def _mean_exposure(site: Site, first: date) -> float:
    learned = SiteUse.objects.filter(site=site).first()
    calendar = calendar_of(site, first, YEAR_DAYS)
    return float(np.mean(_pattern_of(learned).exposure(calendar)))


def _pattern_of(learned: SiteUse | None) -> UsePattern:
    if learned is None:
        return even_pattern()
    return UsePattern(np.array(learned.weekday), np.array(learned.season), learned.season_learned)


def use_ahead(site: Site, bows: Sequence[Bow], first: date, days: int, use_factor: float = 1.0) -> UseAhead:
    """The shots to come of some bows of a site, from what was last learned; a bow without history uses its group.

    `use_factor` multiplies chance hires, for a what-if; known bookings are what they are.
    """
    learned = SiteUse.objects.filter(site=site).first()
    group = GroupRate(learned.group_mean, learned.group_worth_days) if learned else GroupRate()
    house = HouseShots()
    mean, spread = (learned.shots_mean, learned.shots_relative_sd) if learned else (house.mean, house.relative_sd)
    habits = {one.bow_id: one for one in BowUse.objects.filter(bow__in=[bow.pk for bow in bows])}
    rows = [
        (one.shape, one.inverse_scale, one.shots_mean, one.shots_mean_relative_sd)
        if (one := habits.get(bow.pk))
        else (group.shape, group.worth_days, mean, house.between_bows)
        for bow in bows
    ]
    shape, inverse_scale, shots_mean, mean_sd = np.array(rows, dtype=np.float64).reshape(-1, 4).T
    return UseAhead(
        belief=RateBelief(shape, inverse_scale),
        group=group,
        shots=SessionShots(shots_mean, mean_sd, spread),
        exposure=_pattern_of(learned).busier(use_factor).exposure(calendar_of(site, first, days)),
        booked_shots=_booked(site, bows, first, days),
        clumping=learned.clumping if learned else 1.0,
    )


def _booked(site: Site, bows: Sequence[Bow], first: date, days: int) -> Floats | None:
    """Shots expected of the known bookings of each very bow, on the day on which they begin; None without any."""
    index = {bow.pk: i for i, bow in enumerate(bows)}
    start, end = start_of(first, site.time_zone), start_of(first + timedelta(days=days), site.time_zone)
    ahead = Booking.objects.filter(
        Q(start__gte=start, start__lt=end), bow__in=list(index), cancelled_at=None, expected_shots__gt=0
    )
    booked = list(ahead)
    if not booked:
        return None
    shots = np.zeros((len(bows), days))
    for booking in booked:
        day = (day_of(booking.start, site.time_zone) - first).days
        if booking.bow_id is not None and 0 <= day < days:
            shots[index[booking.bow_id], day] += booking.expected_shots
    return shots
