"""A program of yes/no choices with linear rows, written once and read by both solvers (CP-SAT and HiGHS).

All coefficients are whole numbers (minutes, press visits, cords, cents), so sums are exact.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix


@dataclass(frozen=True)
class Rows:
    """The rows as a sparse matrix (rows x choices), with lower and upper limits (infinite where none)."""

    matrix: csr_matrix
    low: NDArray[np.float64]
    high: NDArray[np.float64]

    def allow(self, values: NDArray[np.bool_]) -> bool:
        """The choices keep every row."""
        sums = self.matrix @ values.astype(np.float64)
        return bool(np.all(sums >= self.low) and np.all(sums <= self.high))


@dataclass
class LinearProgram:
    """Choices are numbered from 0 in order of creation; `cost[i]` is paid, in cents, when choice i is yes."""

    cost: list[int] = field(default_factory=list)
    _columns: list[int] = field(default_factory=list)
    _coefficients: list[int] = field(default_factory=list)
    _starts: list[int] = field(default_factory=lambda: [0])
    _low: list[float] = field(default_factory=list)
    _high: list[float] = field(default_factory=list)

    def choice(self, cost: int = 0) -> int:
        self.cost.append(cost)
        return len(self.cost) - 1

    def require(self, terms: Sequence[tuple[int, int]], low: float = -math.inf, high: float = math.inf) -> None:
        """Add the row low <= sum of (choice, coefficient) <= high; a row of no terms is left out.

        Limits are tightened to what the common divisor of the coefficients can reach: jobs of 15, 20 and 45
        minutes in a day of 232 fill at most 230, which the fractional program would not know.
        """
        if not terms:
            return
        step = math.gcd(*(k for _, k in terms)) or 1
        self._columns += [c for c, _ in terms]
        self._coefficients += [k // step for _, k in terms]
        self._starts.append(len(self._columns))
        self._low.append(low if math.isinf(low) else math.ceil(low / step))
        self._high.append(high if math.isinf(high) else math.floor(high / step))

    def rows(self) -> Rows:
        """All rows required so far."""
        matrix = csr_matrix(
            (
                np.array(self._coefficients, dtype=np.float64),
                np.array(self._columns, dtype=np.int64),
                np.array(self._starts, dtype=np.int64),
            ),
            shape=(len(self._low), len(self.cost)),
        )
        return Rows(matrix, np.array(self._low), np.array(self._high))
