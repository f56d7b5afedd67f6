"""How many shots a session takes: mean and spread by moments, each bow drawn toward its group.

Shots of a session are gamma-distributed (positive, clumped) with the group's relative spread; a bow's own mean counts
by the sessions it rests on (Buhlmann's credibility: Buhlmann & Gisler 2005, A Course in Credibility Theory, ch. 3-4).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class HouseShots:
    """Belief before any session: mean shots and relative spread of one session, and between bows (all *assumed*).

    45 is the middle of a hire session's 30..60 shots an hour (derived from round lengths, not published).
    """

    mean: float = 45.0
    relative_sd: float = 0.6
    between_bows: float = 0.25
    worth_sessions: float = 5.0

    def __post_init__(self) -> None:
        values = (self.mean, self.relative_sd, self.between_bows, self.worth_sessions)
        if not all(np.isfinite(v) and v > 0.0 for v in values):
            raise ValueError(f"house shots per session {values}: every setting must be above 0.")


@dataclass(frozen=True)
class SessionShots:
    """Per bow: `mean` shots of a session and how uncertain that mean is (relative), (n,); one session's relative sd."""

    mean: FloatArray
    mean_relative_sd: FloatArray
    relative_sd: float


def learn_shots(bow: IntArray, shots: FloatArray, bows: int, house: HouseShots | None = None) -> SessionShots:
    """From single sessions: `bow` (rows,) 0-based, `shots` (rows,) of that session. Bows without any use the group."""
    belief = house if house is not None else HouseShots()
    if np.any(~(np.isfinite(shots) & (shots >= 0.0))):
        raise ValueError("shots of a session must be 0 or more; correct the entry or leave it out.")
    count = np.bincount(bow, minlength=bows).astype(np.float64)
    own_sum = np.bincount(bow, shots, minlength=bows)
    total, worth = float(np.sum(count)), belief.worth_sessions
    group_mean = (float(np.sum(own_sum)) + worth * belief.mean) / (total + worth)
    own_mean = np.divide(own_sum, count, out=np.full(bows, group_mean), where=count > 0.0)
    within, between = _variances(bow, shots, count, own_mean, group_mean, belief)
    credibility = count / (count + within / between)
    mean = group_mean + credibility * (own_mean - group_mean)
    uncertainty = np.sqrt(between * (1.0 - credibility)) / mean
    return SessionShots(mean, uncertainty, float(np.sqrt(within) / group_mean))


def _variances(
    bow: IntArray,
    shots: FloatArray,
    count: FloatArray,
    own_mean: FloatArray,
    group_mean: float,
    belief: HouseShots,
) -> tuple[float, float]:
    """Variance of sessions within a bow and of means between bows; each holds the house's worth of sessions."""
    scale, worth, present = group_mean**2, belief.worth_sessions, int(np.count_nonzero(count))
    freedom = float(np.sum(count)) - present
    squares = float(np.sum((shots - own_mean[bow]) ** 2))
    within = (squares + worth * belief.relative_sd**2 * scale) / (freedom + worth)
    house_between = belief.between_bows**2 * scale
    if present < 2:
        return within, house_between
    total = float(np.sum(count))
    scatter = float(np.sum(count * (own_mean - group_mean) ** 2)) - (present - 1) * within
    found = max(scatter / (total - float(np.sum(count**2)) / total), 0.0)
    return within, (present * found + worth * house_between) / (present + worth)
