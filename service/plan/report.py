"""What came out: the plan, its cost by name, the bound, the gap, and in words how good it is known to be."""

from dataclasses import dataclass
from enum import StrEnum

from service.plan.costs import from_cents
from service.plan.frame import Frame, Spots
from service.plan.objective import cost_of
from service.plan.outcome import Plan
from service.plan.precedence import Kept
from service.plan.units import money
from service.plan.words import plan_in_words
from service.said import figure, say

SMALLEST_SHOWN = 0.001


class Status(StrEnum):
    """How good the plan is known to be. Only a plan whose bound meets its cost is called the best possible."""

    PROVEN = "proven best"
    BEST_FOUND = "best found"


@dataclass(frozen=True)
class PlanReport:
    """Money in the site's currency, `gap` a fraction of the cost, `effort` in deterministic seconds.

    `bound`: no plan that keeps as many held bows and published days can cost less. `held_left_out`,
    `days_moved`: how many held needs have no place and how many published days moved although they would
    have had one alone; `precedence_proven` says whether no plan could do better on these.
    """

    plan: Plan
    status: Status
    objective: float
    bound: float
    gap: float
    first_plan_objective: float
    costs: dict[str, float]
    held_left_out: int
    days_moved: int
    precedence_proven: bool
    sentence: str


def report_of(frame: Frame, spots: Spots, bound: int, kept: Kept, first_plan: int) -> PlanReport:
    costs = cost_of(frame, spots)
    gap = 0.0 if costs.total <= 0 else max(0.0, (costs.total - bound) / costs.total)
    proven = bound >= costs.total and kept.proven
    return PlanReport(
        plan=plan_in_words(frame, spots),
        status=Status.PROVEN if proven else Status.BEST_FOUND,
        objective=from_cents(costs.total),
        bound=from_cents(min(bound, costs.total)),
        gap=gap,
        first_plan_objective=from_cents(first_plan),
        costs=costs.in_money(),
        held_left_out=kept.held_left_out,
        days_moved=kept.days_moved,
        precedence_proven=kept.proven,
        sentence=_sentence(frame, costs.total, bound, gap, proven),
    )


def _sentence(frame: Frame, cents: int, bound: int, gap: float, proven: bool) -> str:
    cost = money(frame.problem, cents)
    if proven:
        return say("Proven best: no plan costs less than %(cost)s.", cost=cost)
    if gap == 0.0:
        return say(
            "Best found, %(cost)s; whether more held bows or published days could be kept is not proven.", cost=cost
        )
    least = money(frame.problem, bound)
    size = say("gap %(gap)s %%", gap=figure(100 * gap, ".1f")) if gap >= SMALLEST_SHOWN else say("gap under 0.1 %%")
    return say(
        "Best found, %(size)s: it costs %(cost)s, and no plan can cost less than %(least)s.",
        size=size,
        cost=cost,
        least=least,
    )
