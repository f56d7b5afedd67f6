"""How often each bow is hired: the discounted gamma-Poisson count model.

Sessions on a day ~ Poisson(rate x exposure), rate ~ Gamma(shape, inverse_scale). Each day what was learned is worth
`discount` (omega) of what it was, then the day's count is added: West & Harrison (1997), Bayesian Forecasting and
Dynamic Models, section 10.8; Harvey & Fernandes (1989), J. Bus. Econ. Stat. 7:407-417. The belief before any history,
taken from the bow's group, is not discounted: a bow that has not been seen for long falls back to its group.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# omega a day (assumed): what is learned halves in worth in about 69 days.
DEFAULT_DISCOUNT = 0.99
# Bounds on what a group's belief may be worth, in ordinary open days (assumed): never nothing, never immovable.
GROUP_WORTH_DAYS = (3.0, 60.0)


@dataclass(frozen=True)
class GroupRate:
    """Belief about a bow without history: `mean` sessions per ordinary open day, worth `worth_days` such days.

    Default for a house without any history: *assumed*.
    """

    mean: float = 0.5
    worth_days: float = 7.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.mean) and self.mean > 0.0 and np.isfinite(self.worth_days) and self.worth_days > 0.0):
            raise ValueError(
                f"group rate is {self.mean} sessions a day worth {self.worth_days} days: both must be above 0."
            )

    @property
    def shape(self) -> float:
        return self.mean * self.worth_days


@dataclass(frozen=True)
class RateBelief:
    """Gamma belief of each bow's sessions per ordinary open day: `shape` and `inverse_scale` (days), arrays (n,)."""

    shape: FloatArray
    inverse_scale: FloatArray

    @property
    def mean(self) -> FloatArray:
        return self.shape / self.inverse_scale

    def probability_of(self, sessions: npt.ArrayLike, exposure: float = 1.0) -> FloatArray:
        """Predictive probability of `sessions` (k,) on one day of `exposure`: negative binomial, shape (n, k)."""
        counts = np.atleast_1d(np.asarray(sessions, dtype=np.int64))[None, :]
        success = self.inverse_scale / (self.inverse_scale + exposure)
        return np.asarray(scipy.stats.nbinom.pmf(counts, self.shape[:, None], success[:, None]), dtype=np.float64)


@dataclass(frozen=True)
class SessionRows:
    """Hire sessions, one row per bow and day with any: `bow` and `day` 0-based, `sessions` counts, arrays (rows,)."""

    bow: IntArray
    day: IntArray
    sessions: FloatArray

    def __post_init__(self) -> None:
        if not self.bow.shape == self.day.shape == self.sessions.shape:
            raise ValueError(
                f"session rows have {self.bow.size} bows, {self.day.size} days, {self.sessions.size} counts: give one "
                "of each per row."
            )
        if np.any(~(np.isfinite(self.sessions) & (self.sessions >= 0.0))):
            raise ValueError("a count of sessions must be 0 or more; correct the day's usage.")

    def before(self, day: int) -> "SessionRows":
        """The rows of days 0 .. day - 1."""
        kept = self.day < day
        return SessionRows(self.bow[kept], self.day[kept], self.sessions[kept])


def learn_rates(
    rows: SessionRows,
    exposure: FloatArray,
    first_day: IntArray,
    group: GroupRate | None,
    discount: float = DEFAULT_DISCOUNT,
) -> RateBelief:
    """Belief of each bow at the end of the last day.

    `exposure` (days,) common to all bows; `first_day` (n,) the day each bow entered the book; `group` None starts flat
    (then a bow without any exposure has no mean). Sums are order-free, so late and corrected rows just change the sum.
    """
    weight = _checked_discount(discount) ** np.arange(exposure.size - 1, -1, -1, dtype=np.float64)
    if rows.day.size and not 0 <= int(rows.day.min()) <= int(rows.day.max()) < exposure.size:
        raise ValueError(
            f"sessions on days {rows.day.min()}..{rows.day.max()}, but the history has days 0..{exposure.size - 1}."
        )
    counted = np.bincount(rows.bow, weight[rows.day] * rows.sessions, minlength=first_day.size).astype(np.float64)
    from_day: FloatArray = np.append(np.cumsum((weight * exposure)[::-1])[::-1], 0.0)
    exposed = from_day[np.clip(first_day, 0, exposure.size)]
    return RateBelief(counted + (group.shape if group else 0.0), exposed + (group.worth_days if group else 0.0))


def advance(
    belief: RateBelief,
    sessions: FloatArray,
    exposure: float,
    group: GroupRate | None,
    discount: float = DEFAULT_DISCOUNT,
) -> RateBelief:
    """The belief one day later, after that day's `sessions` (n,): equal to learning from the start again."""
    _checked_discount(discount)
    kept_shape, kept_days = (group.shape, group.worth_days) if group else (0.0, 0.0)
    return RateBelief(
        kept_shape + discount * (belief.shape - kept_shape) + sessions,
        kept_days + discount * (belief.inverse_scale - kept_days) + exposure,
    )


def learn_group(sessions: FloatArray, exposure: FloatArray, house: GroupRate | None = None) -> GroupRate:
    """Belief about the next bow of a group from its bows' total `sessions` and `exposure`, arrays (n,).

    Method of moments for the gamma spread between bows (the weighted between-group variance of one-way analysis of
    variance); bounded so that a group of two bows neither says nothing nor everything.
    """
    fallback = house if house is not None else GroupRate()
    seen = exposure > 0.0
    total = float(np.sum(exposure[seen]))
    if not total > 0.0:
        return fallback
    # A group that was never hired is still worth only its exposure against the house's belief.
    mean = (float(np.sum(sessions[seen])) + fallback.shape) / (total + fallback.worth_days)
    if np.count_nonzero(seen) < 2:
        return GroupRate(mean, fallback.worth_days)
    rate = sessions[seen] / exposure[seen]
    scatter = float(np.sum(exposure[seen] * (rate - mean) ** 2)) - (rate.size - 1) * mean
    spread = scatter / (total - float(np.sum(exposure[seen] ** 2)) / total)
    lowest, highest = GROUP_WORTH_DAYS
    worth = mean / spread if spread > 0.0 else highest
    return GroupRate(mean, float(np.clip(worth, lowest, highest)))


def _checked_discount(discount: float) -> float:
    if not 0.0 < discount <= 1.0:
        raise ValueError(f"discount omega is {discount} a day: it must lie above 0 and at most 1, for example 0.99.")
    return discount
