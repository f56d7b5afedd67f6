"""Scheduling instances with known answers, expressed in the plan's own model where they fit.

The plan puts whole jobs into days (day buckets), so what fits are packing and assignment problems. What does
not fit: Pinedo's one-machine instances 1||sum T (p 121 79 147 83 130, d 260 266 266 336 337; total tardiness
370) and 1||sum wT (p 12 8 15 9, w 4 5 3 5, d 16 26 25 27; 67). There a job's completion depends on the
sequence within the machine's time and a job runs across any number of due dates; here a need never spans days
and no order within a day is priced. They are left out rather than bent.
"""

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from service.plan.outcome import Limit
from service.plan.problem import PlanProblem, SolveLimits
from service.plan.report import PlanReport, Status
from service.plan.solve import solve
from tests.plan.shop import need, problem, technician

EXACT = SolveLimits(effort=60.0, gap=0.0)
PACKING_MINUTES = (48, 30, 19, 36, 36, 27, 42, 42, 36, 24, 30)
"""Bin packing, capacity 100: 4 bins. Source: OR-Tools' sample data for bin packing (by way of memory)."""
MACHINE_MINUTES = (7, 7, 6, 6, 5, 5, 4, 4, 4)
"""P4||Cmax: 12. Source: Pinedo, Scheduling (memory, re-solved)."""


def all_placed(report: PlanReport, count: int) -> bool:
    return len(report.plan.placements) == count


def packing(days: int, minutes: tuple[int, ...] = PACKING_MINUTES) -> PlanProblem:
    """A day is a bin: one technician with 100 minutes on so many days."""
    wren = technician(minutes=[100] * days + [0] * (7 - days))
    jobs = [need(f"item {i:02}", due=6, early=0.0, bench_min=size) for i, size in enumerate(minutes)]
    return problem(jobs, technicians=(wren,), limits=EXACT)


def test_eleven_items_go_into_four_days_of_a_hundred_minutes():
    assert all_placed(solve(packing(days=4)), 11)


def test_eleven_items_do_not_go_into_three():
    report = solve(packing(days=3))
    assert not all_placed(report, 11)
    assert report.status is Status.PROVEN
    assert {u.limit for u in report.plan.unplaced} <= {Limit.MINUTES, Limit.ABSENT}


def machines(minutes_each: int) -> PlanProblem:
    """A technician is a machine: four of them, all on one day."""
    people = tuple(technician(name, minutes=[minutes_each] + [0] * 6) for name in ("A", "B", "C", "D"))
    jobs = [need(f"job {i}", due=0, bench_min=size) for i, size in enumerate(MACHINE_MINUTES)]
    return problem(jobs, technicians=people, limits=EXACT)


def test_nine_jobs_on_four_machines_are_done_in_twelve():
    assert all_placed(solve(machines(12)), 9)


def test_nine_jobs_on_four_machines_are_not_done_in_eleven():
    report = solve(machines(11))
    assert not all_placed(report, 9)
    assert report.status is Status.PROVEN


@pytest.mark.parametrize("seed", range(5))
def test_jobs_that_fill_a_day_are_an_assignment_problem(seed):
    """1|p=1|sum of any day costs is the assignment problem: same optimum as scipy's linear_sum_assignment."""
    rng = np.random.default_rng(seed)
    days = 30
    jobs = [
        need(
            f"job {i:02}",
            due=int(rng.integers(days)),
            days=days,
            late=float(rng.integers(1, 40)),
            early=float(rng.integers(0, 5)),
            bench_min=120,
            unplaced_cost=9999.0,
        )
        for i in range(days)
    ]
    report = solve(problem(jobs, days=days, limits=EXACT))
    costs = np.array([np.add(job.early_cost, job.late_cost) for job in jobs])
    rows, columns = linear_sum_assignment(costs)
    assert report.objective == pytest.approx(costs[rows, columns].sum())
    assert report.status is Status.PROVEN
