"""When to look next: the step over which few enough cords would be condemned unnoticed.

A cord good at life used D is still good at D + step with probability R(D + step) / R(D). The largest step that keeps
it at 1 - target solves (D + step)^beta = D^beta - eta^beta ln(1 - target): closed form for Weibull life.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from service.said import Said, figure, mark, say
from service.wear.weibull import WeibullLife

FloatArray = npt.NDArray[np.float64]

# House settings (common practice, no source).
DEFAULT_RISK_TARGET = 0.01
DEFAULT_MAXIMUM_DAYS = 30.0


class StepLimit(StrEnum):
    """What sets the date of the next inspection."""

    RISK = mark("risk target")
    HOUSE_MAXIMUM = mark("house maximum")


@dataclass(frozen=True)
class NextInspection:
    """Days from the last inspection, what set them, the step in life used that the risk allows, the reason."""

    days: float
    limit: StepLimit
    step_life_used: float
    reason: Said


def inspection_step(
    life_used: npt.ArrayLike, life: WeibullLife, risk_target: float = DEFAULT_RISK_TARGET
) -> FloatArray:
    """Largest step in life used for which R(D + step) / R(D) >= 1 - `risk_target`; `life_used` >= 0, any shape."""
    if not 0.0 < risk_target < 1.0:
        raise ValueError(
            f"risk target is {risk_target}: it must lie between 0 and 1 (share of cords), for example 0.01."
        )
    used = np.asarray(life_used, dtype=np.float64)
    if np.any(~(used >= 0.0)):
        raise ValueError(f"life used is {np.min(used)}: it must be 0 or more; rebuild the cord's wear state.")
    allowed_hazard = -np.log1p(-risk_target)
    from_new = life.eta * allowed_hazard ** (1.0 / life.beta)
    with np.errstate(divide="ignore", over="ignore"):
        growth = allowed_hazard * np.power(life.eta / np.where(used > 0.0, used, np.inf), life.beta)
        # expm1/log1p keep the small step of an old cord from being lost in the difference of two large ages.
        worn = used * np.expm1(np.log1p(growth) / life.beta)
    # Below about 1e-300 of growth's range the worn form overflows; there the cord is as good as new.
    return np.where((used > 0.0) & np.isfinite(worn), worn, from_new - used)


def next_inspection(
    life_used: float,
    life_per_day: float,
    life: WeibullLife,
    risk_target: float = DEFAULT_RISK_TARGET,
    maximum_days: float = DEFAULT_MAXIMUM_DAYS,
) -> NextInspection:
    """Days until the next look: the risk's step at `life_per_day` (life used per day ahead), or the house maximum."""
    if not (np.isfinite(maximum_days) and maximum_days > 0.0):
        raise ValueError(f"house maximum between inspections is {maximum_days} days: it must be above 0, e.g. 30.")
    if not (np.isfinite(life_per_day) and life_per_day >= 0.0):
        raise ValueError(f"life used per day is {life_per_day}: it must be 0 or more; rebuild the forecast.")
    step = float(inspection_step(life_used, life, risk_target))
    by_risk = step / life_per_day if life_per_day > 0.0 else np.inf
    limit = StepLimit.RISK if by_risk < maximum_days else StepLimit.HOUSE_MAXIMUM
    days = float(min(by_risk, maximum_days))
    reason = say(
        "Inspect within %(days)s days (%(limit)s): at life used %(used)s a step of %(step)s keeps the chance of being "
        "condemned unnoticed at %(risk)s %% (Weibull eta %(eta)s, shape %(shape)s); at %(rate)s a day that is "
        "%(by_risk)s; house maximum %(maximum)s days.",
        days=figure(days, ".0f"),
        limit=say(limit.value),
        used=figure(life_used, ".2f"),
        step=figure(step, ".3f"),
        risk=figure(100.0 * risk_target),
        eta=figure(life.eta, ".2f"),
        shape=figure(life.beta, ".2f"),
        rate=figure(life_per_day, ".4f"),
        by_risk=_days_text(by_risk),
        maximum=figure(maximum_days, ".0f"),
    )
    return NextInspection(days, limit, step, reason)


def _days_text(days: float) -> Said:
    return say("%(days)s days", days=figure(days, ".0f")) if np.isfinite(days) else say("never (not in use)")
