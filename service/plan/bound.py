"""The linear bound: no plan can cost less than the program with its yes/no choices taken as fractions.

HiGHS (dual simplex, through scipy) is deterministic and needs no time limit. The reduced costs say how much
dearer a plan becomes at least when it takes a choice that the fractional plan leaves; they tell which
choices are worth the solver's time, and which cannot be in any plan better than one already found.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray
from scipy.sparse import vstack

from service.plan.linear import Rows

SAFETY = 1e-6
"""Relative slack taken off the bound for the solver's own tolerances."""


@dataclass(frozen=True)
class LinearBound:
    """`cents` is a valid lower bound on the cost; `reduced_cost` and `share` have one value per choice."""

    cents: int
    reduced_cost: NDArray[np.float64]
    share: NDArray[np.float64]


class NoBoundError(RuntimeError):
    """HiGHS did not solve the linear program; the text carries its message."""


def linear_bound(cost: Sequence[int], rows: Rows) -> LinearBound:
    """Solve the fractional program. Raises NoBoundError when HiGHS reports anything but an optimum."""
    if not cost:
        return LinearBound(0, np.zeros(0), np.zeros(0))
    matrix, low, high = rows.matrix, rows.low, rows.high
    equal = low == high
    upper, lower = ~equal & np.isfinite(high), ~equal & np.isfinite(low)
    solved = scipy.optimize.linprog(
        np.array(cost, dtype=np.float64),
        A_ub=vstack([matrix[upper], -matrix[lower]]),
        b_ub=np.concatenate([high[upper], -low[lower]]),
        A_eq=matrix[equal],
        b_eq=high[equal],
        bounds=(0, 1),
        method="highs-ds",
    )
    if solved.status != 0:
        raise NoBoundError(f"the linear bound was not found: {solved.message}")
    cents = math.ceil(solved.fun - SAFETY * max(1.0, abs(solved.fun)))
    return LinearBound(cents, np.asarray(solved.lower.marginals), np.asarray(solved.x))
