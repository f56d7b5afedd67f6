"""The best plan found so far, the bound proved so far, and the effort left."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from service.plan.bound import LinearBound
from service.plan.choices import Choices, spots_of, values_of
from service.plan.frame import Frame, Spots
from service.plan.linear import Rows
from service.plan.objective import cost_of
from service.plan.problem import SolveLimits
from service.plan.search import Search, search
from service.plan.state import without_pointless

ROUNDING = 1e-6
"""Cents: a whole-cent bound is rounded up from anything above this."""

BUILD_EFFORT = 5e-6
"""Deterministic seconds charged per free choice for writing the model down, which CP-SAT does not count."""


@dataclass
class Best:
    """Cents and deterministic seconds; only ever improves."""

    frame: Frame
    choices: Choices
    rows: Rows
    linear: LinearBound
    spots: Spots
    limits: SolveLimits
    effort_left: float
    cents: int = field(init=False)
    bound: int = field(init=False)

    def __post_init__(self) -> None:
        self.cents = cost_of(self.frame, self.spots).total
        self.bound = min(self.linear.cents, self.cents)

    def gap(self) -> float:
        return 0.0 if self.cents <= 0 else (self.cents - self.bound) / self.cents

    def goes_on(self) -> bool:
        """The gap asked for is not reached and effort is left."""
        return self.gap() > self.limits.gap and self.effort_left > 0.0

    def values(self) -> NDArray[np.bool_]:
        return values_of(self.choices, self.frame, self.spots)

    def promising(self) -> NDArray[np.bool_]:
        """Choices that a plan better than the best found could contain, and those of the best itself."""
        return (self.linear.reduced_cost <= self.cents - self.linear.cents + 1.0) | self.values()

    def near(self, reach: float) -> NDArray[np.bool_]:
        """Promising choices of a reduced cost up to `reach` times the mean cost per need, and the best plan's."""
        limit = reach * self.linear.cents / max(1, len(self.frame.needs))
        return self.promising() & ((self.linear.reduced_cost <= limit) | self.values())

    def search(self, free: NDArray[np.bool_], effort: float, hint: NDArray[np.bool_] | None = None) -> Search:
        """Let CP-SAT choose among the free choices; keep what it finds if it is better.

        Choices that are not free stay as they are in the best plan.
        """
        start = self.values()
        gap, seed = self.limits.gap / 2, self.limits.seed
        run = search(self.choices.program.cost, self.rows, start, free, effort, gap, seed, hint)
        self.effort_left -= run.effort + BUILD_EFFORT * int(free.sum())
        if run.impossible:
            raise RuntimeError("CP-SAT finds no plan among choices that hold one: the rules contradict each other.")
        if run.chosen is not None:
            self.offer(without_pointless(self.frame, spots_of(self.choices, run.chosen)))
        return run

    def raise_bound(self, cents: int) -> None:
        self.bound = min(max(self.bound, cents), self.cents)

    def offer(self, spots: Spots) -> None:
        """Take a plan that keeps every row (held bows and published days too) and costs less."""
        cents = cost_of(self.frame, spots).total
        if cents < self.cents and self.rows.allow(values_of(self.choices, self.frame, spots)):
            self.spots, self.cents = spots, cents
