"""Each cord's own creep rate, learned from its as-found / as-left pairs.

Between two measurements a cord's creep strain is k x exposure (hours under tension at the reference temperature,
already weighted for its fibre). Belief about k before any pair: log-normal about the fibre's coefficient. The
posterior is held on a grid per cord; many cords are done at once.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from service.wear.coefficients import HOURS_PER_MONTH
from service.wear.grid import support

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_NODES = 129
_REACH_DEVIATIONS = 8.0
_LOOKS = 3


@dataclass(frozen=True)
class CreepPrior:
    """Median creep rate (strain per hour at reference) and the factor within which it lies two times in three.

    Default 0.02 % a month, *assumed* as in the wear model; the factor of 2 is *assumed*.
    """

    median_per_h: float = 2.0e-4 / HOURS_PER_MONTH
    spread_factor: float = 2.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.median_per_h) and self.median_per_h > 0.0):
            raise ValueError(
                f"prior creep rate is {self.median_per_h} per hour: it must be above 0; correct the cord spec's creep."
            )
        if not (np.isfinite(self.spread_factor) and self.spread_factor > 1.0):
            raise ValueError(f"prior creep spread is x{self.spread_factor}: it must be above 1, for example 2.")


@dataclass(frozen=True)
class CreepPairs:
    """Pairs of many cords, one row each, arrays (n,).

    `cord`: 0-based index of the cord. `exposure_h`: hours at reference between as left and as found. `strain`: the
    stretch found over the length, less the settle-in predicted for the same span. `strain_sd`: its standard error,
    from the tools' resolution.
    """

    cord: IntArray
    exposure_h: FloatArray
    strain: FloatArray
    strain_sd: FloatArray

    def __post_init__(self) -> None:
        for row in np.flatnonzero(~(np.isfinite(self.exposure_h) & (self.exposure_h >= 0.0)))[:1]:
            raise ValueError(
                f"creep pair {row}: exposure is {self.exposure_h[row]} h; it must be 0 or more: as found must come "
                "after as left."
            )
        for row in np.flatnonzero(~(np.isfinite(self.strain_sd) & (self.strain_sd > 0.0)))[:1]:
            raise ValueError(
                f"creep pair {row}: standard error of strain is {self.strain_sd[row]}; it must be above 0: give the "
                "measuring tool's resolution."
            )
        for row in np.flatnonzero(~np.isfinite(self.strain))[:1]:
            raise ValueError(f"creep pair {row}: strain is {self.strain[row]}; leave the pair out or correct it.")


@dataclass(frozen=True)
class CreepRates:
    """Per cord, arrays (cords,): 5 %, 50 % and 95 % points of k (strain per hour), spread of ln k, pairs used."""

    lower_per_h: FloatArray
    median_per_h: FloatArray
    upper_per_h: FloatArray
    log_sd: FloatArray
    pairs: IntArray


def learn_creep(pairs: CreepPairs, cords: int, prior: CreepPrior | None = None) -> CreepRates:
    """Posterior creep rate of each of `cords` cords; one without pairs keeps the prior."""
    belief = prior if prior is not None else CreepPrior()
    if pairs.cord.size and not 0 <= int(pairs.cord.min()) <= int(pairs.cord.max()) < cords:
        raise ValueError(
            f"creep pairs name cords {pairs.cord.min()}..{pairs.cord.max()}, but there are {cords} cords: indices run "
            f"from 0 to {cords - 1}."
        )
    precision = pairs.strain_sd**-2.0
    # Two sums per cord are all that a normal error needs, whatever the number of pairs.
    information = np.bincount(pairs.cord, precision * pairs.exposure_h**2, minlength=cords)
    agreement = np.bincount(pairs.cord, precision * pairs.exposure_h * pairs.strain, minlength=cords)
    count = np.bincount(pairs.cord, minlength=cords)
    centre, spread = np.log(belief.median_per_h), np.log(belief.spread_factor)
    fitted = agreement / np.where(information > 0.0, information, 1.0)
    floor = np.full(cords, centre - _REACH_DEVIATIONS * spread)
    ceiling = centre + _REACH_DEVIATIONS * spread
    lower, upper = floor, np.maximum(ceiling, np.log(np.maximum(fitted, belief.median_per_h)) + 1.0)
    for _ in range(_LOOKS):
        nodes = np.linspace(lower, upper, _NODES, axis=1)
        rate = np.exp(nodes)
        log_density = agreement[:, None] * rate - 0.5 * information[:, None] * rate**2
        log_density -= 0.5 * ((nodes - centre) / spread) ** 2
        lower, upper = support(nodes, log_density)
    weight = np.exp(log_density - np.max(log_density, axis=1, keepdims=True))
    weight /= np.sum(weight, axis=1, keepdims=True)
    mean = np.sum(weight * nodes, axis=1)
    log_sd = np.sqrt(np.sum(weight * (nodes - mean[:, None]) ** 2, axis=1))
    low, middle, high = (np.exp(_row_quantile(nodes, weight, p)) for p in (0.05, 0.5, 0.95))
    return CreepRates(low, middle, high, log_sd, count.astype(np.int64))


def _row_quantile(nodes: FloatArray, weight: FloatArray, probability: float) -> FloatArray:
    """Quantile of each row of evenly spaced `nodes` (n, m) by linear interpolation between mid-cell masses."""
    centred = np.cumsum(weight, axis=1) - weight / 2.0
    above = np.clip(np.argmax(centred >= probability, axis=1), 1, nodes.shape[1] - 1)
    rows = np.arange(nodes.shape[0])
    left, right = centred[rows, above - 1], centred[rows, above]
    share = np.clip((probability - left) / np.maximum(right - left, np.finfo(np.float64).tiny), 0.0, 1.0)
    return nodes[rows, above - 1] + share * (nodes[rows, above] - nodes[rows, above - 1])
