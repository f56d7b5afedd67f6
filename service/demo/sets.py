"""When the demo's cords were changed: walked back from today, so that the present ones show what the story wants.

The reckoning here is rough on purpose: shots and days against the rated ones, heat as doubling every few degrees. It
only chooses dates for facts. What the cords' wear is, the service computes from those facts in its own way.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fleet.vocabulary import Finding, RemovalReason
from service.demo.makes import CordMake
from service.demo.use import Session
from service.demo.weather import SEASON_DAYS

DAYS_A_MONTH = 30.44
HEAT_SHARE = {"hmpe": 1.0, "hmpe_lcp_blend": 1.0, "polyester": 0.3, "lcp": 0.02}
CONDEMNED_SHARE = 0.3  # of the sets that were changed, one cord of so many was found unfit before its time
LEAST_PRIOR = 0.04


@dataclass(frozen=True)
class CordSet:
    """The cords of a bow from a day of the season until another (none: still fitted).

    `prior_life` is the share of rated life used before the book began. `condemned` names the position whose finding
    ended the set early.
    """

    fitted_day: int
    removed_day: int | None
    prior_life: float
    removed_why: str = ""
    condemned: str = ""
    finding: str = ""


@dataclass(frozen=True, eq=False)
class Ageing:
    """A rough share of rated life that the bow's string uses on each day of the season."""

    by_day: NDArray[np.float64]

    def between(self, first: int, end: int) -> float:
        """From the morning of a day to the morning of another."""
        return float(self.by_day[first:end].sum())

    def day_for(self, target: float, end: int, bench_days: NDArray[np.bool_]) -> int:
        """The latest bench day from whose morning on the target is used by the morning of `end`; -1 if in no day."""
        used = np.cumsum(self.by_day[:end][::-1])
        reached = np.flatnonzero(used >= target)
        if not reached.size:
            return -1
        allowed = np.flatnonzero(bench_days[: end - int(reached[0])])
        return int(allowed[-1]) if allowed.size else -1


def ageing(string: CordMake, sessions: Sequence[Session], heat_by_day: NDArray[np.float64]) -> Ageing:
    """How a string ages by its shots, the days and the heat of the place where the bow is kept."""
    shots = np.zeros(SEASON_DAYS + 1)
    for session in sessions:
        shots[session.day] += session.shots
    heat = HEAT_SHARE[string.fibre] * (heat_by_day - 1.0)
    return Ageing(shots / string.rated_shots + (1.0 + heat) / (string.rated_months * DAYS_A_MONTH))


def walk_back(
    aged: Ageing,
    target: float,
    positions: Sequence[str],
    bench_days: NDArray[np.bool_],
    rng: np.random.Generator,
    end: int = SEASON_DAYS,
    removed: int | None = None,
) -> list[CordSet]:
    """The sets of a bow, first to last; the last one shows about `target` on the morning of `end`.

    `bench_days` says for each day of the season whether somebody is at the bench. Give `removed` where even the last
    of these sets is not fitted any more.
    """
    found: list[CordSet] = []
    life = target
    condemned = finding = ""
    while True:
        day = aged.day_for(life, end, bench_days)
        prior = 0.0 if day >= 0 else life - aged.between(0, end)
        why = "" if removed is None else str(RemovalReason.CONDEMNED if condemned else RemovalReason.PLANNED)
        kept_prior = prior if prior > LEAST_PRIOR else 0.0
        found.append(CordSet(max(day, 0), removed, kept_prior, why, condemned, finding))
        if day <= 0:
            return found[::-1]
        end = removed = day
        condemned = str(rng.choice(positions)) if rng.random() < CONDEMNED_SHARE else ""
        finding = str(rng.choice(Finding.values)) if condemned else ""
        life = float(rng.uniform(0.5, 0.92) if condemned else rng.uniform(0.86, 1.0))
