"""What if: the same computation on changed inputs, beside the current plan. Nothing is saved here.

Changed use or heat changes the needs' dates and costs: the caller works those out with the wear model and
hands in the changed needs (`with_needs`); absences and late deliveries are changed here.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from service.plan.outcome import Plan
from service.plan.problem import Need, PartStock, PlanProblem, ProblemError, Technician
from service.plan.report import PlanReport
from service.plan.solve import solve
from service.plan.units import money


@dataclass(frozen=True)
class Comparison:
    """`extra`: currency, what if minus now. `other_day`: needs placed in both on different days; needs that
    only one of the two problems has are in `new_needs` and `gone_needs`."""

    name: str
    now: PlanReport
    then: PlanReport
    extra: float
    other_day: tuple[str, ...]
    no_longer_placed: tuple[str, ...]
    newly_placed: tuple[str, ...]
    new_needs: tuple[str, ...]
    gone_needs: tuple[str, ...]
    sentence: str


def technician_away(problem: PlanProblem, technician: str, first: date, last: date) -> PlanProblem:
    """The problem with a technician absent on first..last (both included). ValueError for an unknown one."""
    if technician not in {person.id for person in problem.technicians}:
        raise ProblemError(f"technician {technician} is not at site {problem.site}; pick one who is.")

    def with_absence(person: Technician) -> Technician:
        minutes = zip(problem.days, person.minutes, strict=True)
        return replace(person, minutes=tuple(0 if first <= day <= last else there for day, there in minutes))

    people = tuple(with_absence(p) if p.id == technician else p for p in problem.technicians)
    return replace(problem, technicians=people)


def delivery_late(problem: PlanProblem, cord_spec: str, days: int) -> PlanProblem:
    """The problem with every delivery of a cord spec that many days later. ValueError for an unknown spec."""
    if days < 0:
        raise ProblemError(f"delivery {days} days late; 0 or more days.")
    if cord_spec not in {stock.cord_spec for stock in problem.stock}:
        raise ProblemError(f"cord spec {cord_spec} has no stock record at site {problem.site}; pick one that has.")

    def later(stock: PartStock) -> PartStock:
        arrivals = tuple(replace(a, day=a.day + timedelta(days=days)) for a in stock.arrivals)
        return replace(stock, arrivals=arrivals)

    return replace(problem, stock=tuple(later(s) if s.cord_spec == cord_spec else s for s in problem.stock))


def with_needs(problem: PlanProblem, needs: Iterable[Need]) -> PlanProblem:
    """The problem with other needs (busier, hotter), keeping only published jobs of needs that still exist."""
    kept = tuple(needs)
    known = {need.id for need in kept}
    return replace(problem, needs=kept, published=tuple(job for job in problem.published if job.need in known))


def what_if(name: str, problem: PlanProblem, now: PlanReport, changed: PlanProblem) -> Comparison:
    """Solve the changed problem and set it beside the current plan `now` of `problem`."""
    then = solve(changed)
    old, new = {need.id for need in problem.needs}, {need.id for need in changed.needs}
    before, after = _days(now.plan), _days(then.plan)
    no_longer = tuple(sorted(u.need for u in then.plan.unplaced if u.need in before))
    newly = tuple(sorted(n for n in after if n in old and n not in before))
    other_day = tuple(sorted(n for n in before if n in after and before[n] != after[n]))
    extra = then.objective - now.objective
    return Comparison(
        name=name,
        now=now,
        then=then,
        extra=extra,
        other_day=other_day,
        no_longer_placed=no_longer,
        newly_placed=newly,
        new_needs=tuple(sorted(new - old)),
        gone_needs=tuple(sorted(old - new)),
        sentence=_sentence(name, problem, extra, other_day, no_longer),
    )


def _days(plan: Plan) -> dict[str, date]:
    return {placement.need: placement.day for placement in plan.placements}


def _sentence(
    name: str, problem: PlanProblem, extra: float, other_day: tuple[str, ...], no_longer: tuple[str, ...]
) -> str:
    change = "costs" if extra >= 0 else "saves"
    amount = money(problem, round(abs(extra) * 100))
    return f"{name}: {change} {amount}; {len(other_day)} on another day, {len(no_longer)} without a day."
