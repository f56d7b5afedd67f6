"""An invented shop for the plan's tests: Larkspur Range, week of Monday 2 March 2026."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from service.plan.problem import Need, NeedKind, PlanProblem, Technician
from tests.plan.flat_costs import early_by_day, late_by_day

MONDAY = date(2026, 3, 2)


def day(number: int) -> date:
    return MONDAY + timedelta(days=number)


def technician(
    name: str = "Wren", minutes: int | Sequence[int] = 120, skills: str = "cords", days: int = 7
) -> Technician:
    per_day = (minutes,) * days if isinstance(minutes, int) else tuple(minutes)
    return Technician(name, frozenset(skills.split()), per_day)


def need(name: str, due: int = 3, *, days: int = 7, late: float = 5.0, early: float = 1.0, **changes: Any) -> Need:
    """A 60-minute job with 0 set-up, no press, due on day `due`, any day allowed, dear to leave out."""
    late_cost = late_by_day(due, late, days)
    given: dict[str, Any] = {
        "bow": f"bow of {name}",
        "kind": NeedKind.REQUESTED,
        "skill": "cords",
        "bench_min": 60,
        "setup_min": 0,
        "needs_press": False,
        "earliest": day(0),
        "due": day(due),
        "early_cost": early_by_day(due, early, days),
        "late_cost": late_cost,
        "unplaced_cost": late_cost[-1] + 50.0,
    }
    return Need(id=name, **{**given, **changes})


def problem(needs: Sequence[Need], *, days: int = 7, **changes: Any) -> PlanProblem:
    given: dict[str, Any] = {
        "site": "Larkspur Range",
        "currency": "USD",
        "days": tuple(day(n) for n in range(days)),
        "technicians": (technician(days=days),),
        "press_visits": (4,) * days,
        "labour_per_hour": 30.0,
    }
    return PlanProblem(needs=tuple(needs), **{**given, **changes})
