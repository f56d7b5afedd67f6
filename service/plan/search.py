"""One run of CP-SAT: fixed seed, one worker, deterministic-time limit, so the same input gives the same plan
on any machine however slow."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from service.plan.linear import Rows

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

NO_LIMIT = 2**40


@dataclass(frozen=True)
class Search:
    """What CP-SAT found. `chosen` is None when it found nothing in its effort (UNKNOWN, which is not
    INFEASIBLE) or when nothing exists (`impossible`); `bound` is None when it has none. Effort in
    deterministic seconds."""

    chosen: NDArray[np.bool_] | None
    bound: float | None
    proven: bool
    impossible: bool
    effort: float


def search(
    cost: Sequence[int],
    rows: Rows,
    start: NDArray[np.bool_],
    free: NDArray[np.bool_],
    effort: float,
    gap: float,
    seed: int,
    hint: NDArray[np.bool_] | None = None,
) -> Search:
    """Minimise `cost` over the free choices, the others held as in `start`, which is the hint unless given.

    `start`, `free` and the result have one value per choice; effort is in deterministic seconds.
    """
    # Loaded by who solves: it takes as long to load as the rest of the service, and most processes never solve.
    from ortools.sat.python import cp_model

    model, variables = _model(rows, start, free)
    wished = start if hint is None else hint
    prices = np.asarray(cost)
    held = int(prices[start & ~free].sum())
    objective = cp_model.LinearExpr.weighted_sum(list(variables.values()), [cost[c] for c in variables])
    model.minimize(objective + held)
    for column, variable in variables.items():
        model.add_hint(variable, bool(wished[column]))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = effort
    solver.parameters.relative_gap_limit = gap
    solver.parameters.linearization_level = 2
    status = solver.solve(model)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    chosen = start & ~free
    for column, variable in variables.items() if found else ():
        chosen[column] = solver.boolean_value(variable)
    return Search(
        chosen=chosen if found else None,
        bound=solver.best_objective_bound if found else None,
        proven=status == cp_model.OPTIMAL and gap == 0.0,
        impossible=status == cp_model.INFEASIBLE,
        effort=solver.response_proto.deterministic_time,
    )


def _model(
    rows: Rows, start: NDArray[np.bool_], free: NDArray[np.bool_]
) -> tuple["cp_model.CpModel", dict[int, "cp_model.IntVar"]]:
    """CP-SAT's copy of the rows over the free choices, what is held moved into the limits."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    columns = np.flatnonzero(free)
    variables = {int(c): model.new_bool_var("") for c in columns}
    used = rows.matrix @ (start & ~free).astype(np.float64)
    part = rows.matrix[:, columns]
    names = list(variables.values())
    for row in np.flatnonzero(np.diff(part.indptr)):
        inside = slice(part.indptr[row], part.indptr[row + 1])
        terms = cp_model.LinearExpr.weighted_sum(
            [names[c] for c in part.indices[inside]], [int(k) for k in part.data[inside]]
        )
        low, high = rows.low[row] - used[row], rows.high[row] - used[row]
        model.add_linear_constraint(
            terms, -NO_LIMIT if np.isinf(low) else int(low), NO_LIMIT if np.isinf(high) else int(high)
        )
    return model, variables
