"""The plan as it stands beside the plan on changed inputs: nothing is saved."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleet.models import Site
from service.models import NeedKind
from service.plan.load import load_of
from service.plan.parts import orders_to_place
from service.plan.problem import PlanProblem
from service.plan.report import PlanReport
from service.plan.solve import solve
from service.plan.whatif import Comparison, delivery_late, technician_away, what_if
from service.planning.figures import Risk, risk_of, sets_used
from service.planning.left_out import parted
from service.planning.other_conditions import Conditions, facts_under
from service.planning.problem import SitePlan, site_plan
from service.units import Dimension, Units, format_deviation

AS_LEARNED = Conditions()


@dataclass(frozen=True)
class Change:
    """What is different: conditions ahead, somebody away on first..last, deliveries of a cord spec days later."""

    conditions: Conditions = AS_LEARNED
    away: tuple[str, date, date] | None = None
    late: tuple[str, int] | None = None

    def told(self, system: Units) -> str:
        """The change in a few words, in the units that a site reads."""
        parts = []
        if self.conditions.use_factor != 1.0:
            parts.append(f"use {100 * self.conditions.use_factor - 100:+.0f} %")
        if self.conditions.warmer_c:
            parts.append(format_deviation(self.conditions.warmer_c, Dimension.TEMPERATURE, system))
        if self.away is not None:
            parts.append(f"{self.away[0]} away {self.away[1]} to {self.away[2]}")
        if self.late is not None:
            parts.append(f"{self.late[0]} {self.late[1]} days late")
        return ", ".join(parts) or "nothing changed"


@dataclass(frozen=True)
class Side:
    """One of the two plans in figures; money in the site's currency, load in hundredths of all bench minutes."""

    objective: float
    gap: float
    needs: int
    placed: int
    unplaced: int
    replacements: int
    cords: int
    orders: int
    orders_cost: float
    load_percent: float
    risk: Risk

    @property
    def gap_percent(self) -> float:
        """The gap in hundredths of the cost."""
        return 100.0 * self.gap


@dataclass(frozen=True)
class Moved:
    """A need on another day in the changed plan; None: without a day there, or not needed there."""

    need: str
    now: date | None
    then: date | None
    due_now: date | None
    due_then: date | None


@dataclass(frozen=True)
class Answer:
    """Both plans and what differs; `name`: the change in words, `extra`: what it costs (the site's currency)."""

    name: str
    extra: float
    now: Side
    then: Side
    changes: tuple[Moved, ...]
    unplaced: tuple[tuple[str, str], ...]

    @property
    def saved(self) -> float:
        """What the change saves, where it does."""
        return -self.extra


def compare(site: Site, first_day: date, days: int, change: Change, now: datetime) -> Answer:
    """Solve both. ValueError for conditions out of range, an unknown person or a cord spec that is not stocked."""
    as_is = site_plan(site, first_day, days, now)
    facts = None if change.conditions == AS_LEARNED else facts_under(site, change.conditions, now)
    then = site_plan(site, first_day, days, now, facts)
    problem = _with_bench_changes(then.problem, change)
    report = solve(as_is.problem)
    comparison = what_if(change.told(Units(site.units)), as_is.problem, report, problem)
    changed = SitePlan(then.site, problem, then.needs, then.computed, then.ahead, then.prices, then.days, then.hand)
    return Answer(
        comparison.name,
        comparison.extra,
        _side(as_is, comparison.now),
        _side(changed, comparison.then),
        _changes(as_is, changed, comparison),
        tuple(
            (one.need, one.sentence)
            for one in parted(changed, comparison.then.plan.unplaced)[1]
            if one.need in _worse(comparison)
        ),
    )


def _with_bench_changes(problem: PlanProblem, change: Change) -> PlanProblem:
    if change.away is not None:
        problem = technician_away(problem, *change.away)
    return problem if change.late is None else delivery_late(problem, *change.late)


def _side(there: SitePlan, report: PlanReport) -> Side:
    problem, plan = there.problem, report.plan
    loads = load_of(problem, plan)
    used = sum(sum(day.minutes_used.values()) for day in loads)
    minutes = sum(sum(day.minutes_there.values()) for day in loads)
    lines = orders_to_place(problem, plan)
    placed = {place.need for place in plan.placements}
    return Side(
        objective=report.objective,
        gap=report.gap,
        needs=len(problem.needs),
        placed=len(placed),
        unplaced=len(parted(there, plan.unplaced)[1]),
        replacements=sum(1 for name in placed if there.needs[name].kind == NeedKind.REPLACEMENT),
        cords=sum(sets_used(there, plan, 0, problem.horizon - 1).values()),
        orders=sum(line.count for line in lines),
        orders_cost=sum(line.cost for line in lines),
        load_percent=100.0 * used / minutes if minutes else 0.0,
        risk=risk_of(there, plan, 0, problem.horizon - 1),
    )


def _worse(comparison: Comparison) -> set[str]:
    """Needs that have no day in the changed plan and had one, or are new."""
    return {*comparison.no_longer_placed, *comparison.new_needs}


def _changes(now: SitePlan, then: SitePlan, comparison: Comparison) -> tuple[Moved, ...]:
    """Needs placed differently, soonest first: the changed plan's day, else today's."""
    before = {place.need: place.day for place in comparison.now.plan.placements}
    after = {place.need: place.day for place in comparison.then.plan.placements}
    found = [
        Moved(
            name,
            before.get(name),
            after.get(name),
            now.needs[name].due_on if name in now.needs else None,
            then.needs[name].due_on if name in then.needs else None,
        )
        for name in {*before, *after}
        if before.get(name) != after.get(name)
    ]
    return tuple(sorted(found, key=lambda one: (one.then or one.now or date.max, one.need)))


def week_from(first: date) -> tuple[date, date]:
    """A week's absence, from a day on: what the page offers first."""
    return first, first + timedelta(days=6)
