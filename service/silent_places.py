"""Places of a site whose temperature was not read for longer than the house bridges: told beside what rests on it.

Of every place only its gaps are wanted, so the instants of all its site's readings are read in one query, and no heat
is integrated.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from fleet.models import Place, Site, TemperatureReading
from fleet.vocabulary import TemperatureSource
from service.columns import columns
from service.gather import coefficients
from service.instants import day_of, epoch_s, start_of
from service.place_readings import REACH_S
from service.wear.arrays import SECONDS_PER_HOUR, Floats


@dataclass(frozen=True)
class SilentPlace:
    """A place, the hours of these days that lie in gaps, and whether it is a vehicle that was never read."""

    place: Place
    gap_h: float
    is_unread_vehicle: bool


@dataclass(frozen=True)
class Silence:
    """The silent places of a site, by name, and the longest gap that the house bridges (h)."""

    places: list[SilentPlace]
    max_gap_h: float


def silence_at(site: Site, now: datetime, days: int) -> Silence:
    """What is missing of the last `days` days up to now; a place of fixed temperature misses nothing."""
    start = start_of(day_of(now, site.time_zone) - timedelta(days=days - 1), site.time_zone)
    max_gap_h = coefficients().house["max_bridged_gap"].value
    places = [one for one in site.places.order_by("name") if not _is_fixed(one)]
    times = _times([one.pk for one in places], epoch_s(start))
    window = (epoch_s(start), epoch_s(now))
    gaps = [(one, gap_hours(times.get(one.pk, np.empty(0)), *window, max_gap_h)) for one in places]
    missing = [(one, hours) for one, hours in gaps if hours > 0.0]
    vehicles = [one.pk for one, _ in missing if one.temperature_source == TemperatureSource.PARKED_VEHICLE]
    read = set(TemperatureReading.objects.filter(place__in=vehicles, at__lte=now).values_list("place", flat=True))
    return Silence(
        [SilentPlace(one, hours, one.pk in vehicles and one.pk not in read) for one, hours in missing], max_gap_h
    )


def gap_hours(times_s: Floats, start_s: float, end_s: float, max_gap_h: float) -> float:
    """Hours between the two instants that lie in gaps between readings (epoch s, in order) longer than bridged."""
    if times_s.size == 0:
        return (end_s - start_s) / SECONDS_PER_HOUR
    edges = np.concatenate([[min(start_s, times_s[0])], times_s, [max(end_s, times_s[-1])]])
    is_gap = np.diff(edges) > max_gap_h * SECONDS_PER_HOUR
    within = np.minimum(edges[1:], end_s) - np.maximum(edges[:-1], start_s)
    return float(np.sum(np.maximum(within, 0.0)[is_gap])) / SECONDS_PER_HOUR


def _is_fixed(place: Place) -> bool:
    return place.temperature_source == TemperatureSource.FIXED and place.fixed_temperature_c is not None


def _times(places: list[int], start_s: float) -> dict[int, Floats]:
    """Instants of the readings of each place that bear on what follows `start_s`, in order."""
    since = datetime.fromtimestamp(start_s - REACH_S, UTC)
    place, at = columns(TemperatureReading.objects.filter(place__in=places, at__gte=since), "place_id", at="at")
    order = np.lexsort((at, place))
    ids, first = np.unique(place[order], return_index=True)
    return dict(zip(ids.astype(np.int64).tolist(), np.split(at[order], first[1:]), strict=False))
