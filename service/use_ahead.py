"""Use ahead: the rhythm of a site and each bow's habit, learned from its shots; then the shots to come."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
from django.db.models import Q

from fleet.models import Booking, Bow, Shots, Site
from service.columns import columns, indices_of
from service.forecast.ahead import UseAhead
from service.forecast.pattern import Calendar, UsePattern, calendar_from, even_pattern, learn_pattern
from service.forecast.rates import GroupRate, RateBelief, SessionRows, learn_group, learn_rates
from service.forecast.shots import HouseShots, SessionShots, learn_shots
from service.instants import SECONDS_PER_DAY, day_of, epoch_s, start_of
from service.models import BowUse, SiteUse
from service.wear.arrays import Floats, Ints

HISTORY_DAYS = 730
YEAR_DAYS = 365
# Entries of a bow this close together are one session: a counter posts every few minutes.
SESSION_GAP_S = 45 * 60.0
BATCH = 500


@dataclass(frozen=True, eq=False)
class Sessions:
    """Sessions of some bows over the history: bow index, day index and shots of each."""

    bow: Ints
    day: Ints
    shots: Floats


def learn_use(site: Site, now: datetime) -> None:
    """Learn a site's rhythm and each of its bows' habits anew from its history."""
    bows = list(Bow.objects.filter(site=site, retirement=None).order_by("pk"))
    today = day_of(now, site.time_zone)
    first = today - timedelta(days=HISTORY_DAYS)
    sessions = _sessions(bows, site, first)
    calendar = calendar_of(site, first, HISTORY_DAYS)
    entered = np.array([max((bow.in_service_on - first).days, 0) for bow in bows], dtype=np.int64)
    if sessions.day.size:
        # The book may begin later than the bows: before the first session nothing was recorded.
        entered = np.maximum(entered, int(sessions.day.min()))
    pattern = _pattern(calendar, sessions, entered)
    exposure = pattern.exposure(calendar)
    per_bow = np.bincount(sessions.bow, minlength=len(bows)).astype(np.float64)
    from_day = np.append(np.cumsum(exposure[::-1])[::-1], 0.0)
    group = learn_group(per_bow, from_day[np.minimum(entered, exposure.size)])
    rows = SessionRows(sessions.bow, sessions.day, np.ones(sessions.bow.size))
    belief = learn_rates(rows, exposure, entered, group)
    shots = learn_shots(sessions.bow, sessions.shots, len(bows))
    _save(site, now, pattern, group, bows, belief, shots)


def _sessions(bows: Sequence[Bow], site: Site, first: date) -> Sessions:
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
    return Sessions(bow[begins][kept], day[kept], shots[kept])


def calendar_of(site: Site, first: date, days: int) -> Calendar:
    """Open days of a site."""
    closed = frozenset(site.closed_days.values_list("day", flat=True))
    return calendar_from(first, days, frozenset(site.opening_weekdays or range(7)), closed)


def _pattern(calendar: Calendar, sessions: Sessions, entered: Ints) -> UsePattern:
    if not sessions.day.size:
        return even_pattern()
    first = int(sessions.day.min())
    present = np.searchsorted(np.sort(entered), np.arange(calendar.days), side="right").astype(np.float64)
    by_day = np.bincount(sessions.day, minlength=calendar.days).astype(np.float64)
    return learn_pattern(calendar.between(first, calendar.days), by_day[first:], present[first:])


def _save(
    site: Site,
    now: datetime,
    pattern: UsePattern,
    group: GroupRate,
    bows: Sequence[Bow],
    belief: RateBelief,
    shots: SessionShots,
) -> None:
    known = float(np.mean(shots.mean)) if shots.mean.size else HouseShots().mean
    SiteUse.objects.update_or_create(
        site=site,
        defaults={
            "learned_at": now,
            "weekday": pattern.weekday.tolist(),
            "season": pattern.season.tolist(),
            "season_learned": pattern.season_learned,
            "group_mean": group.mean,
            "group_worth_days": group.worth_days,
            "shots_mean": known,
            "shots_relative_sd": shots.relative_sd,
        },
    )
    BowUse.objects.filter(bow__site=site).delete()
    BowUse.objects.bulk_create(
        (
            BowUse(
                bow=bow,
                shape=float(belief.shape[i]),
                inverse_scale=float(belief.inverse_scale[i]),
                shots_mean=float(shots.mean[i]),
                shots_mean_relative_sd=float(shots.mean_relative_sd[i]),
            )
            for i, bow in enumerate(bows)
        ),
        batch_size=BATCH,
    )


def mean_shots_per_day(bows: Sequence[Bow], now: datetime) -> Floats:
    """Shots a day of each bow over the coming year by what was last learned of it; 0 where nothing was learned."""
    habits = BowUse.objects.filter(bow__in={bow.pk for bow in bows}) if len(bows) < BATCH else BowUse.objects.all()
    per_open_day = {one.bow_id: one.shape / one.inverse_scale * one.shots_mean for one in habits}
    exposure: dict[int, float] = {}
    for bow in bows:
        if bow.site_id not in exposure:
            exposure[bow.site_id] = _mean_exposure(bow.site, day_of(now, bow.site.time_zone))
    return np.array([per_open_day.get(bow.pk, 0.0) * exposure[bow.site_id] for bow in bows], dtype=np.float64)


def _mean_exposure(site: Site, first: date) -> float:
    learned = SiteUse.objects.filter(site=site).first()
    calendar = calendar_of(site, first, YEAR_DAYS)
    return float(np.mean(_pattern_of(learned).exposure(calendar)))


def _pattern_of(learned: SiteUse | None) -> UsePattern:
    if learned is None:
        return even_pattern()
    return UsePattern(np.array(learned.weekday), np.array(learned.season), learned.season_learned)


def use_ahead(site: Site, bows: Sequence[Bow], first: date, days: int) -> UseAhead:
    """The shots to come of some bows of a site, from what was last learned; a bow without history uses its group."""
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
        exposure=_pattern_of(learned).exposure(calendar_of(site, first, days)),
        booked_shots=_booked(site, bows, first, days),
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
