"""How many sets will be changed over the days ahead: as planned, and because a cord was condemned first.

A set is changed whole on the day on which the first of its cords reaches its replacement point or is condemned; all of
its cords then begin anew. Age replacement after Barlow & Hunter (1960), Operations Research 8:90-100, simulated, for
the first years of a shop are far from the long run. Use ahead is taken at its mean rate.
"""

from dataclasses import dataclass

import numpy as np

from service.wear.arrays import Floats, Ints


@dataclass(frozen=True, eq=False)
class SetsAhead:
    """Cords of n bows, arrays (n, cords); nan in `life_used` where a bow has fewer.

    `life_used` now, `per_day` ahead and `point` of replacement in one unit of life (rated lives), as are `eta` and
    `beta` of each cord's Weibull life.
    """

    life_used: Floats
    per_day: Floats
    point: Floats
    eta: Floats
    beta: Floats

    def __post_init__(self) -> None:
        there = np.isfinite(self.life_used)
        for name, values in (("replacement point", self.point), ("eta", self.eta), ("beta", self.beta)):
            if np.any(~(values[there] > 0.0)):
                raise ValueError(f"{name} {np.min(values[there]):g}: it must be above 0; rebuild the cord's wear.")
        if np.any(~(self.life_used[there] >= 0.0)) or np.any(~(self.per_day[there] >= 0.0)):
            raise ValueError("life used and life a day must be 0 or more; rebuild the cords' wear.")


@dataclass(frozen=True, eq=False)
class SetChanges:
    """Changes of each set over the days ahead, (draws, n): as planned, and because a cord was condemned first."""

    planned: Ints
    condemned: Ints


def changes_ahead(sets: SetsAhead, days: float, draws: int, rng: np.random.Generator) -> SetChanges:
    """Changes over `days` in each of `draws` simulated runs; a cord past its point is changed at once.

    Cost: changes in all x cords of a set; a run of a set drops out once its next change lies beyond `days`.
    """
    bows = sets.life_used.shape[0]
    planned, condemned = np.zeros(draws * bows, dtype=np.int64), np.zeros(draws * bows, dtype=np.int64)
    run = np.flatnonzero(np.tile(np.any(np.isfinite(sets.life_used), axis=1), draws))
    elapsed, used = np.zeros(run.size), sets.life_used[run % bows]
    while run.size:
        by_plan, by_finding = _days_to_change(sets, run % bows, used, rng)
        elapsed = elapsed + np.minimum(by_plan, by_finding)
        in_time = elapsed <= days
        # Each run of a set is there once, so that nothing is counted over.
        planned[run[in_time & (by_plan <= by_finding)]] += 1
        condemned[run[in_time & (by_plan > by_finding)]] += 1
        run, elapsed = run[in_time], elapsed[in_time]
        used = np.where(np.isnan(used[in_time]), np.nan, 0.0)
    return SetChanges(planned.reshape(draws, bows), condemned.reshape(draws, bows))


def _days_to_change(sets: SetsAhead, bow: Ints, used: Floats, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Days until the first cord of each set (m,) reaches its point, and until the first is condemned; `used` (m, c)."""
    eta, beta, point, per_day = sets.eta[bow], sets.beta[bow], sets.point[bow], sets.per_day[bow]
    # A life drawn given that the cord is still good: its cumulative hazard grows by a unit exponential from here.
    hazard = np.power(used / eta, beta) + rng.exponential(size=used.shape)
    left_to_finding = eta * np.power(hazard, 1.0 / beta) - used
    left_to_point = np.maximum(point - used, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        by_plan = np.where(left_to_point > 0.0, left_to_point / per_day, np.where(np.isnan(used), np.inf, 0.0))
        by_finding = left_to_finding / per_day
    return _first(by_plan), _first(by_finding)


def _first(days: Floats) -> Floats:
    return np.min(np.where(np.isnan(days), np.inf, days), axis=1)
