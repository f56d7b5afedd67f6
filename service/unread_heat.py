"""How long a bow hung where nobody read the temperature: its heat then rests on the site's indoor temperature."""

from collections import defaultdict
from datetime import datetime

from fleet.models import Bow, Place
from service.gather import Since, coefficients, place_heat, readings_of
from service.instants import epoch_s
from service.wear.heat import HeatScale


def unread_hours(bow: Bow, start: datetime, end: datetime) -> float:
    """Hours of the bow's stays from `start` to `end` that lie in gaps which the house does not bridge."""
    start_s, end_s = epoch_s(start), epoch_s(end)
    max_gap_h = coefficients().house["max_bridged_gap"].value
    windows: dict[Place, list[tuple[float, float]]] = defaultdict(list)
    for stay in bow.stays.select_related("place__site").filter(start__lt=end).exclude(end__lte=start):
        last_s = end_s if stay.end is None else min(epoch_s(stay.end), end_s)
        windows[stay.place].append((max(epoch_s(stay.start), start_s), last_s))
    total = 0.0
    for place, stays in windows.items():
        heat = place_heat(place, readings_of(place, Since(start_s, start_s)), HeatScale(), max_gap_h)
        total += sum(gap.hours for first_s, last_s in stays for gap in heat.gaps(first_s, last_s))
    return total
