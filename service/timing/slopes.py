"""Responses that no model predicts: peak weight per limb-bolt turn, draw length per length of cord.

Learned from closed orders or not known at all. There is no prior of the model's here: with nothing learned the
answer is None, and the sheet says "check".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service.timing.kinematics import FloatArray

BETWEEN_BOWS_RELATIVE_ERROR = 0.20
"""Assumed: how far two bows of one spec sheet differ in such a response, as a standard deviation."""


@dataclass(frozen=True, slots=True)
class ObservedChange:
    """One closed order: what was changed (`causes`, SI or turns), what a measurement did then (SI), and the
    standard error of that change (SI)."""

    causes: Mapping[str, float]
    change: float
    standard_error: float

    def __post_init__(self) -> None:
        if not self.standard_error > 0.0:
            raise ValueError(
                f"a change of {self.change} (SI) has a standard error of {self.standard_error}; it must be above "
                "0: give the resolution of the tool"
            )


@dataclass(frozen=True, slots=True)
class LearnedSlope:
    """Change of the measurement per unit of one cause, and what it rests on."""

    cause: str
    value: float
    standard_error: float
    orders: int
    mates_orders: int


def learn_slopes(
    causes: Sequence[str], own: Sequence[ObservedChange], mates: Sequence[ObservedChange] = ()
) -> tuple[LearnedSlope, ...] | None:
    """Slopes through zero by Bayesian linear regression: flat prior, or the mates' posterior widened by how much
    two bows differ. None while the orders do not determine every cause. Raises ValueError for a cause that is
    not among `causes`."""
    prior_precision: FloatArray = np.zeros((len(causes), len(causes)))
    prior_mean: FloatArray = np.zeros(len(causes))
    precision, weighted = _sums(causes, mates)
    if _determined(precision):
        covariance = np.linalg.inv(precision)
        prior_mean = covariance @ weighted
        spread = np.diag((BETWEEN_BOWS_RELATIVE_ERROR * prior_mean) ** 2)
        prior_precision = np.asarray(np.linalg.inv(covariance + spread), dtype=np.float64)
    precision, weighted = _sums(causes, own)
    precision = precision + prior_precision
    if not _determined(precision):
        return None
    covariance = np.linalg.inv(precision)
    mean = covariance @ (weighted + prior_precision @ prior_mean)
    return tuple(
        LearnedSlope(
            cause,
            float(mean[row]),
            float(np.sqrt(covariance[row, row])),
            _count(own, cause),
            _count(mates, cause),
        )
        for row, cause in enumerate(causes)
    )


def _sums(causes: Sequence[str], orders: Sequence[ObservedChange]) -> tuple[FloatArray, FloatArray]:
    foreign = sorted({cause for order in orders for cause in order.causes} - set(causes))
    if foreign:
        raise ValueError(f"{', '.join(foreign)} is not among the causes {', '.join(causes)}; name every cause")
    precision = np.zeros((len(causes), len(causes)))
    weighted = np.zeros(len(causes))
    for order in orders:
        row = np.array([order.causes.get(cause, 0.0) for cause in causes]) / order.standard_error
        precision += np.outer(row, row)
        weighted += row * (order.change / order.standard_error)
    return precision, weighted


def _determined(precision: FloatArray) -> bool:
    scale = np.sqrt(np.diag(precision))
    if not np.all(scale > 0.0):
        return False
    return bool(np.linalg.cond(precision / np.outer(scale, scale)) < 1e8)


def _count(orders: Sequence[ObservedChange], cause: str) -> int:
    return sum(1 for order in orders if order.causes.get(cause, 0.0) != 0.0)
