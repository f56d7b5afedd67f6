"""What a change of cords costs: planned, and when a cord is condemned in use."""

from fleet.models import CordSpec, Site
from service.house import BENCH_WORK, SET_UP_MINUTES
from service.models import NeedKind
from service.wear.replacement import ReplacementCosts

# A condemned cord costs the rental days until its replacement is on the bow; the house keeps common cords on the
# shelf, so no more than a week is counted. House choice.
LONGEST_WAIT_DAYS = 7
SHORTEST_WAIT_DAYS = 1
MINUTES_PER_HOUR = 60
SMALLEST_COST = 0.01


def costs_of(spec: CordSpec, site: Site, bow_kind: str) -> ReplacementCosts:
    """A planned change: the cord and its bench time. Condemned in use: that, and the rental days lost meanwhile."""
    planned = max(float(spec.price) + labour_of(site, bow_kind), SMALLEST_COST)
    lost = wait_days(spec.lead_days) * float(site.rental_value_per_day)
    return ReplacementCosts(planned, planned + lost, site.currency)


def labour_of(site: Site, bow_kind: str) -> float:
    """Bench time of one visit for a change of cords, in the site's currency."""
    minutes = BENCH_WORK[NeedKind.REPLACEMENT].minutes(bow_kind) + SET_UP_MINUTES
    return float(site.labour_rate_per_hour) * minutes / MINUTES_PER_HOUR


def wait_days(lead_days: int) -> int:
    """Rental days that a bow loses when a cord with such a lead time is condemned in use."""
    return min(max(lead_days, SHORTEST_WAIT_DAYS), LONGEST_WAIT_DAYS)
