"""Make a site's plan: first plan, linear bound, then CP-SAT where the bound says that it is worth while.

First the choices of least reduced cost, then neighbourhoods of the best plan, last every choice that a
better plan could contain: that program loses nothing, so its bound and its proof hold for the whole problem.
Effort is deterministic time, never the wall clock.
"""

import math

from service.plan.best import ROUNDING, Best
from service.plan.bound import linear_bound
from service.plan.choices import choices_of
from service.plan.frame import frame_of
from service.plan.greedy import greedy_spots
from service.plan.improve import improve
from service.plan.objective import cost_of
from service.plan.precedence import keep_most
from service.plan.priced import priced_spots
from service.plan.problem import PlanProblem
from service.plan.report import PlanReport, report_of
from service.plan.rules import add_rules

MOSTLY = 0.5
"""A fractional plan that takes a choice by more than this hints at it."""
NARROW = 0.4
"""Reduced costs looked at first, in mean costs per need."""
SMALL = 3000
"""Choices up to which the whole program is searched before the neighbourhoods are."""
SHARE_FOR_PRECEDENCE = 0.3
SHARE_FOR_NARROW = 0.25
SHARE_FOR_NEIGHBOURHOODS = 0.7
"""Parts of the effort left at that point that a stage may use."""


def solve(problem: PlanProblem) -> PlanReport:
    """The best plan within the effort of `problem.limits`, with its cost, bound, gap and every need's fate.

    Same problem, same plan. Raises `bound.NoBoundError` only if HiGHS itself fails.
    """
    frame, limits = frame_of(problem), problem.limits
    first = greedy_spots(frame)
    choices = choices_of(frame)
    add_rules(choices, frame)
    kept = keep_most(choices, frame, first, SHARE_FOR_PRECEDENCE * limits.effort, limits.seed)
    rows = choices.program.rows()
    linear = linear_bound(choices.program.cost, rows)
    best = Best(frame, choices, rows, linear, kept.spots, limits, limits.effort - kept.effort)
    if best.goes_on():
        best.offer(priced_spots(frame, choices, linear, kept.spots))
    if best.goes_on():
        _search_narrow(best)
    if best.goes_on() and int(best.promising().sum()) <= SMALL:
        _search_whole(best)
    if best.goes_on():
        improve(best, SHARE_FOR_NEIGHBOURHOODS * best.effort_left)
    if best.goes_on():
        _search_whole(best)
    return report_of(frame, best.spots, best.bound, kept, cost_of(frame, first).total)


def _search_narrow(best: Best) -> None:
    """Search only choices of small reduced cost, starting from the fractional plan: a good plan, no bound."""
    best.search(best.near(NARROW), SHARE_FOR_NARROW * best.effort_left, hint=best.linear.share > MOSTLY)


def _search_whole(best: Best) -> None:
    """Search every choice that a better plan could contain: its bound and its proof hold for all plans."""
    known = best.cents
    run = best.search(best.promising(), best.effort_left)
    if run.bound is not None:
        best.raise_bound(min(known, math.ceil(run.bound - ROUNDING)))
