"""When to replace: the age that costs least in the long run, under the owner's cap and the spec's hard limit.

Age replacement after Barlow & Hunter (1960), Operations Research 8:90-100: a cord is changed at age D at cost c_p, or
when condemned before D at cost c_f. The long-run cost per unit of life is
[c_p R(D) + c_f (1 - R(D))] / integral_0^D R, least where h(D) integral_0^D R - F(D) = c_p / (c_f - c_p).
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import scipy
from scipy import special

from service.said import Said, figure, mark, say
from service.wear.weibull import WeibullLife

# The owner's cap: guests' bows do not run past rated life to save money (house setting).
DEFAULT_CAP = 1.0

# ln(age / eta) beyond which an optimum is no optimum in practice.
_LOG_AGE_RANGE = (-60.0, 60.0)


class Binding(StrEnum):
    """Which of the three limits sets the replacement point."""

    OPTIMUM = mark("cost optimum")
    CAP = mark("house cap")
    HARD_LIMIT = mark("hard limit")


@dataclass(frozen=True)
class ReplacementCosts:
    """Cost of one planned change and of one cord condemned in use, in the site's currency."""

    planned: float
    condemned: float
    currency: str

    def __post_init__(self) -> None:
        if not (np.isfinite(self.planned) and self.planned > 0.0):
            raise ValueError(
                f"cost of a planned change is {self.planned} {self.currency}: it must be above 0; set parts and labour."
            )
        if not (np.isfinite(self.condemned) and self.condemned >= 0.0):
            raise ValueError(
                f"cost of a condemned cord is {self.condemned} {self.currency}: it must be 0 or more; set what a lost "
                "rental day and a rushed order cost."
            )


@dataclass(frozen=True)
class ReplacementPoint:
    """Life used at which to replace, which limit binds, the optimum if there is one, and the reason in numbers."""

    life_used: float
    binding: Binding
    optimum: float | None
    reason: Said


def integral_of_survival(life: WeibullLife, age: float) -> float:
    """integral_0^age R(x) dx = eta/beta Gamma(1/beta) P(1/beta, (age/eta)^beta): the mean life up to `age`."""
    inverse = 1.0 / life.beta
    return float(
        life.eta * special.gamma(1.0 + inverse) * special.gammainc(inverse, float(life.cumulative_hazard(age)))
    )


def cost_rate(life: WeibullLife, costs: ReplacementCosts, age: float) -> float:
    """Long-run cost per unit of life when replacing at `age` > 0."""
    survival = float(life.survival(age))
    cycle = costs.planned * survival + costs.condemned * (1.0 - survival)
    return cycle / integral_of_survival(life, age)


def optimum_age(life: WeibullLife, costs: ReplacementCosts) -> float | None:
    """The age of least cost, or None where none is finite (shape at most 1, or condemned no dearer than planned)."""
    if life.beta <= 1.0 or costs.condemned <= costs.planned:
        return None
    ratio = costs.planned / (costs.condemned - costs.planned)

    def excess(log_age: float) -> float:
        age = life.eta * float(np.exp(log_age))
        cumulative_hazard = float(life.cumulative_hazard(age))
        waiting = float(life.hazard(age)) * integral_of_survival(life, age)
        return waiting + float(np.expm1(-cumulative_hazard)) - ratio

    with np.errstate(over="ignore"):
        # The left side rises from 0 for shape > 1, so there is one crossing or none within reach.
        if not excess(_LOG_AGE_RANGE[1]) > 0.0:
            return None
        root = scipy.optimize.brentq(excess, *_LOG_AGE_RANGE, xtol=1e-13, rtol=1e-13)
    return life.eta * float(np.exp(root))


def replacement_point(
    life: WeibullLife, costs: ReplacementCosts, cap: float = DEFAULT_CAP, hard_limit: float | None = None
) -> ReplacementPoint:
    """The least of optimum, cap and hard limit (all in life used D). Cap and hard limit must be above 0."""
    for name, limit in (("house cap", cap), ("hard limit", hard_limit)):
        if limit is not None and not (np.isfinite(limit) and limit > 0.0):
            raise ValueError(f"{name} is life used {limit}: it must be above 0, for example 1.0.")
    optimum = optimum_age(life, costs)
    limits = {Binding.OPTIMUM: optimum, Binding.CAP: cap, Binding.HARD_LIMIT: hard_limit}
    binding, point = min(
        ((which, value) for which, value in limits.items() if value is not None), key=lambda pair: pair[1]
    )
    return ReplacementPoint(point, binding, optimum, _reason(life, costs, limits, binding, point))


def _reason(
    life: WeibullLife,
    costs: ReplacementCosts,
    limits: dict[Binding, float | None],
    binding: Binding,
    point: float,
) -> Said:
    hard_limit = limits[Binding.HARD_LIMIT]
    condemned_by = 100.0 * (1.0 - float(life.survival(point)))
    return say(
        "Replace at life used %(point)s: the %(binding)s binds (cost optimum %(least)s, house cap %(cap)s, hard limit "
        "%(hard)s). Planned change %(planned)s %(currency)s, condemned in use %(condemned)s %(currency)s; Weibull eta "
        "%(eta)s, shape %(shape)s: %(condemned_by)s %% are expected to be condemned before that point.",
        point=figure(point, ".2f"),
        binding=say(binding.value),
        least=_least(life, costs, limits[Binding.OPTIMUM]),
        cap=figure(limits[Binding.CAP] or 0.0, ".2f"),
        hard=say("none set") if hard_limit is None else figure(hard_limit, ".2f"),
        planned=figure(costs.planned, ".2f"),
        condemned=figure(costs.condemned, ".2f"),
        currency=costs.currency,
        eta=figure(life.eta, ".2f"),
        shape=figure(life.beta, ".2f"),
        condemned_by=figure(condemned_by, ".1f"),
    )


def _least(life: WeibullLife, costs: ReplacementCosts, optimum: float | None) -> str:
    """The age that costs least, or why there is none."""
    if optimum is not None:
        return figure(optimum, ".2f")
    if life.beta <= 1.0:
        shape = figure(life.beta, ".2f")
        return say("none (shape %(shape)s is at most 1: an old cord is no likelier to go than a new one)", shape=shape)
    if costs.condemned <= costs.planned:
        return say("none (a condemned cord costs no more than a planned change)")
    return say("none within reach")
