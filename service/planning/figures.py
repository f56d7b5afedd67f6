"""A plan in figures, week by week: load, sets, the risk of holding, what to order, what found no day.

Worked out when a draft is saved, where its problem is at hand, and kept beside it: the outlook reads them.
"""

from collections import defaultdict
from dataclasses import dataclass, fields
from datetime import date

import numpy as np

from service.assumed import assumed_at_site
from service.models import NeedKind
from service.plan.load import DayLoad, load_of
from service.plan.outcome import Plan, Unplaced
from service.plan.parts import OrderLine, ToOrder, orders_to_place
from service.planning.left_out import parted
from service.planning.need_costs import held_after
from service.planning.problem import SitePlan

DAYS_IN_A_WEEK = 7
NO_PEOPLE, NOBODY_THERE, NO_PRESS = "no people", "nobody there", "no press"


@dataclass(frozen=True)
class Load:
    """What a week asks of one technician (minutes; by sign-in name) or of the presses (visits), and what there is."""

    name: str
    is_press: bool
    used: int
    there: int

    @property
    def percent(self) -> int:
        """Used in hundredths of what is there; 0 where nothing is."""
        return round(100 * self.used / self.there) if self.there else 0


@dataclass(frozen=True)
class Risk:
    """A week's risk of holding: days that bows stay in, the rental lost by that (currency), and the chance that some
    cord is condemned before its bow's job."""

    held_days: int
    rental_lost: float
    condemned: float

    @property
    def condemned_percent(self) -> float:
        """The chance in hundredths."""
        return 100.0 * self.condemned


@dataclass(frozen=True)
class DayFigures:
    """One day; `minutes` used and there, of everybody."""

    day: date
    closed: bool
    used: int
    there: int


@dataclass(frozen=True)
class WeekFigures:
    """Monday to Sunday, or what of it the plan covers."""

    days: tuple[DayFigures, ...]
    loads: tuple[Load, ...]
    replacements: int
    sets: dict[str, int]
    risk: Risk


@dataclass(frozen=True)
class LeftOut:
    """A need without a day, when it is due, and the limit or the reason."""

    need: str
    due: date
    limit: str


@dataclass(frozen=True)
class PlanFigures:
    """Everything that the outlook shows of a plan but its jobs; `holding`: needs on a day whose bow is held for them.

    `stopped_by`: what stops the whole bench (NO_PEOPLE, NOBODY_THERE, NO_PRESS). `assumed`: names of the assumed
    coefficients behind the dates. `unplaced` and `later` may be the first of so many as the counts say.
    """

    weeks: tuple[WeekFigures, ...]
    orders: tuple[ToOrder, ...]
    unplaced: tuple[LeftOut, ...]
    later: tuple[LeftOut, ...]
    holding: tuple[str, ...]
    stopped_by: tuple[str, ...]
    assumed: tuple[str, ...]
    unplaced_count: int
    later_count: int


def figures_of(there: SitePlan, plan: Plan) -> PlanFigures:
    """The figures of a plan that answers a site's problem."""
    problem = there.problem
    loads = load_of(problem, plan)
    weeks = tuple(_week(there, plan, loads, first, last) for first, last in week_spans(problem.days))
    later, unplaced = parted(there, plan.unplaced)
    return PlanFigures(
        weeks,
        tuple(_to_order(line) for line in orders_to_place(problem, plan)),
        _left_out(there, unplaced),
        _left_out(there, later),
        tuple(sorted(place.need for place in plan.placements if there.needs[place.need].holds)),
        _stopped_by(there),
        tuple(sorted(assumed_at_site(there.site))),
        len(unplaced),
        len(later),
    )


def _week(there: SitePlan, plan: Plan, loads: tuple[DayLoad, ...], first: int, last: int) -> WeekFigures:
    inside = loads[first : last + 1]
    days = tuple(
        DayFigures(
            one.day, one.day in there.problem.closed, sum(one.minutes_used.values()), sum(one.minutes_there.values())
        )
        for one in inside
    )
    replacements = _replacements(there, plan, first, last)
    return WeekFigures(
        days, _loads(inside), replacements, sets_used(there, plan, first, last), risk_of(there, plan, first, last)
    )


def _loads(days: tuple[DayLoad, ...]) -> tuple[Load, ...]:
    people = [
        Load(who, False, sum(day.minutes_used[who] for day in days), sum(day.minutes_there[who] for day in days))
        for who in sorted(days[0].minutes_used)
    ]
    press = Load("", True, sum(day.press_used for day in days), sum(day.press_there for day in days))
    return (*people, press)


def _to_order(line: OrderLine) -> ToOrder:
    return ToOrder(**{field.name: getattr(line, field.name) for field in fields(ToOrder)})


def _left_out(there: SitePlan, left: list[Unplaced]) -> tuple[LeftOut, ...]:
    found = [LeftOut(one.need, there.needs[one.need].due_on, one.sentence) for one in left]
    return tuple(sorted(found, key=lambda one: (one.due, one.need)))


def _stopped_by(there: SitePlan) -> tuple[str, ...]:
    problem, found = there.problem, []
    if not problem.technicians:
        found.append(NO_PEOPLE)
    elif not any(any(person.minutes) for person in problem.technicians):
        found.append(NOBODY_THERE)
    if not any(problem.press_visits) and any(need.needs_press for need in problem.needs):
        found.append(NO_PRESS)
    return tuple(found)


def week_spans(days: tuple[date, ...]) -> list[tuple[int, int]]:
    """First and last day number of each calendar week, Monday to Sunday, that the days touch."""
    spans, first = [], 0
    while first < len(days):
        last = min(len(days) - 1, first + DAYS_IN_A_WEEK - 1 - days[first].weekday())
        spans.append((first, last))
        first = last + 1
    return spans


def _replacements(there: SitePlan, plan: Plan, first: int, last: int) -> int:
    """Sets that are changed on these days."""
    return sum(
        1
        for place in plan.placements
        if there.needs[place.need].kind == NeedKind.REPLACEMENT and first <= there.problem.day_number(place.day) <= last
    )


def sets_used(there: SitePlan, plan: Plan, first: int, last: int) -> dict[str, int]:
    """Cords that the plan's replacements use on these days, by cord spec."""
    used: defaultdict[str, int] = defaultdict(int)
    for place in plan.placements:
        if first <= there.problem.day_number(place.day) <= last:
            for part in there.problem.need_by_id[place.need].parts:
                used[part.cord_spec] += part.count
    return dict(sorted(used.items()))


def risk_of(there: SitePlan, plan: Plan, first: int, last: int) -> Risk:
    """The risk of holding over these days, each bow counted once however many of its needs hold it."""
    end, horizon = _done_on(there, plan), there.problem.horizon
    held: defaultdict[int, set[int]] = defaultdict(set)
    looked_at: dict[int, int] = {}
    for name, need in there.computed.items():
        day = end.get(name, horizon)
        start = held_after(need, there.prices, there.days)
        if start is not None:
            held[need.bow_id] |= set(range(max(first, start), min(last + 1, day)))
        if need.kind in (NeedKind.REPLACEMENT, NeedKind.INSPECTION):
            looked_at[need.bow_id] = min(looked_at.get(need.bow_id, day), day)
    hazard = 0.0
    for bow, day in looked_at.items():
        until = min(last + 1, day)
        if first < until:
            chance = -np.log1p(-there.ahead[bow].condemned)
            hazard += float(chance[until] - chance[first])
    return Risk(
        held_days=sum(len(days) for days in held.values()),
        rental_lost=there.prices.rental_day
        * sum(float(there.ahead[bow].hired[n]) for bow, days in held.items() for n in days),
        condemned=float(-np.expm1(-hazard)),
    )


def _done_on(there: SitePlan, plan: Plan) -> dict[str, int]:
    """Day number on which each need is done, or made pointless by another."""
    done = {place.need: there.problem.day_number(place.day) for place in plan.placements}
    return done | {one.need: there.problem.day_number(one.day) for one in plan.cancelled}
