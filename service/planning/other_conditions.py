"""What if more guests came, or it were hotter: wear, dates and needs worked out anew on changed inputs, nothing saved.

The past stays what it was. Ahead, chance hires are multiplied (known bookings are known), and every place, vehicle and
loggerless site is so much warmer: the heat of the last weeks, from which the rate ahead is taken, is integrated again.
"""

from dataclasses import dataclass, replace
from datetime import datetime

from fleet.models import Bow, Site
from service import decide
from service.cord_lives import CordLives, cord_lives, with_rates
from service.drift_ahead import stretching, timing_drifts
from service.gather import Gathered
from service.planning.facts import Facts
from service.wear.arrays import SECONDS_PER_HOUR
from service.wear.heat import PlaceHeat

LEAST_USE_FACTOR, MOST_USE_FACTOR = 0.1, 3.0
MOST_WARMER_C = 20.0


@dataclass(frozen=True)
class Conditions:
    """Hires ahead in parts of what was learned (1.3: 30 % more), and how much warmer it is everywhere (degC)."""

    use_factor: float = 1.0
    warmer_c: float = 0.0

    def __post_init__(self) -> None:
        if not LEAST_USE_FACTOR <= self.use_factor <= MOST_USE_FACTOR:
            raise ValueError(
                f"use at {100 * self.use_factor:.0f} % of now; allowed are {100 * LEAST_USE_FACTOR:.0f} to "
                f"{100 * MOST_USE_FACTOR:.0f} %: give another change."
            )
        if not abs(self.warmer_c) <= MOST_WARMER_C:
            raise ValueError(
                f"{self.warmer_c:g} degC warmer; allowed are -{MOST_WARMER_C:g} to {MOST_WARMER_C:g} degC: give "
                "another difference."
            )


def facts_under(site: Site, conditions: Conditions, now: datetime) -> Facts:
    """Needs, wear and drift of a site's bows as they would be computed today under other conditions ahead."""
    bows = list(Bow.objects.filter(site=site, retirement=None).select_related("site", "spec_sheet"))
    lives = lives_under(cord_lives([bow.pk for bow in bows], now), conditions, now)
    wears = decide.wears(lives, now)
    drifts = timing_drifts(lives, stretching(lives), now) if wears else []
    return Facts(decide.needs_from(bows, wears, drifts, now), wears, drifts, conditions.use_factor)


def lives_under(lives: CordLives, conditions: Conditions, now: datetime) -> CordLives:
    """The same cords with what they have been through, and the rates ahead of other conditions."""
    rows = warmed(lives.rows, conditions.warmer_c) if conditions.warmer_c else lives.rows
    ahead = with_rates(rows, lives.fitted, lives.total, lives.at_reset, lives.reset_s, lives.creep, now)
    factor = conditions.use_factor
    return replace(
        ahead,
        shots_per_day=ahead.shots_per_day * factor,
        life_per_day=replace(ahead.life_per_day, shots=ahead.life_per_day.shots * factor),
        use_factor=factor,
    )


def warmed(rows: Gathered, warmer_c: float) -> Gathered:
    """Every place and vehicle so many degC warmer, all else the same."""
    heats = {
        energy: {place: _warmed(heat, warmer_c) for place, heat in by_place.items()}
        for energy, by_place in rows.place_heats.items()
    }
    parkings = rows.rows.parkings
    hotter = replace(parkings, outside_c=parkings.outside_c + warmer_c, cabin_c=parkings.cabin_c + warmer_c)
    return replace(rows, place_heats=heats, rows=replace(rows.rows, parkings=hotter))


def _warmed(heat: PlaceHeat, warmer_c: float) -> PlaceHeat:
    assumed_c = heat.assumed_c + warmer_c
    if heat.is_fixed:
        return PlaceHeat.fixed(assumed_c, heat.scale)
    return PlaceHeat.from_readings(
        heat.times_s, heat.temperature_c + warmer_c, assumed_c, heat.scale, heat.max_gap_s / SECONDS_PER_HOUR
    )
