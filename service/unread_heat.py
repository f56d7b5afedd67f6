"""How long a bow hung where nobody read the temperature: its heat then rests on the site's indoor temperature."""

from collections import defaultdict
from datetime import datetime

from fleet.models import Bow, Place
from service.gather import place_heat
from service.instants import epoch_s
from service.place_readings import NO_READINGS, REACH_S, Stretch, readings_for
from service.wear.arrays import SECONDS_PER_HOUR
from service.wear.heat import HeatScale, PlaceHeat


def unread_hours(bow: Bow, start: datetime, end: datetime, max_gap_h: float) -> float:
    """Hours of the bow's stays from `start` to `end` that lie in gaps which the house does not bridge."""
    start_s, end_s = epoch_s(start), epoch_s(end)
    there: dict[Place, list[Stretch]] = defaultdict(list)
    for stay in bow.stays.select_related("place__site").filter(start__lt=end).exclude(end__lte=start):
        last_s = end_s if stay.end is None else min(epoch_s(stay.end), end_s)
        there[stay.place].append(Stretch(stay.place_id, max(epoch_s(stay.start), start_s), last_s))
    readings = readings_for(one for stretches in there.values() for one in stretches)
    total = 0.0
    for place, stretches in there.items():
        heat = place_heat(place, readings.get(place.pk, NO_READINGS), HeatScale(), max_gap_h)
        total += sum(unread_s(heat, one, end_s) for one in stretches) / SECONDS_PER_HOUR
    return total


def unread_s(heat: PlaceHeat, stretch: Stretch, now_s: float) -> float:
    """Seconds of a stretch that lie in gaps; whether a gap is too long shows in what lies around the stretch."""
    around = heat.gaps(stretch.start_s - REACH_S, min(stretch.end_s + REACH_S, now_s))
    within = (min(gap.end_s, stretch.end_s) - max(gap.start_s, stretch.start_s) for gap in around)
    return sum(max(0.0, seconds) for seconds in within)
