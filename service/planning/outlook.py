"""The manager's outlook: the draft week by week, with load, sets, risk of holding, and what to order by when."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import numpy as np

from fleet.models import Person
from service.models import NeedKind, PlannedJob
from service.plan.frame import frame_of, spots_in
from service.plan.load import DayLoad, load_of
from service.plan.outcome import Plan, Unplaced
from service.plan.parts import OrderLine, orders_to_place
from service.plan.words import plan_in_words
from service.planning.bench import bench_people
from service.planning.drafts import parted, pure_plan
from service.planning.moving import Standing
from service.planning.need_costs import held_after
from service.planning.problem import SitePlan
from service.planning.told import told_days

DAYS_IN_A_WEEK = 7


@dataclass(frozen=True)
class Load:
    """What a week asks of one technician (minutes) or of the presses (visits), and what there is."""

    name: str
    is_press: bool
    used: int
    there: int

    @property
    def percent(self) -> int:
        """Used in hundredths of what is there; 0 where nothing is."""
        return round(100 * self.used / self.there) if self.there else 0


@dataclass(frozen=True)
class CardNeed:
    """One need of a job: its kind in words, its reason, and why it has this day."""

    name: str
    reason: str
    why: str


@dataclass(frozen=True)
class Card:
    """One job on its day, and how it stands: told to the bench, put there by hand, or the plan's own."""

    job: PlannedJob
    needs: tuple[CardNeed, ...]
    told: bool
    by_hand: str
    held: bool
    late: bool


@dataclass(frozen=True)
class Day:
    """One day's cards; `minutes` used and there, of everybody."""

    day: date
    closed: bool
    cards: tuple[Card, ...]
    used: int
    there: int


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
class Week:
    """Monday to Sunday, or what of it the plan covers."""

    first: date
    last: date
    days: tuple[Day, ...]
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
class Outlook:
    """Everything on the page; `plan` accounts for each need."""

    weeks: tuple[Week, ...]
    orders: tuple[OrderLine, ...]
    unplaced: tuple[LeftOut, ...]
    later: tuple[LeftOut, ...]
    plan: Plan
    there: SitePlan
    people: tuple[Person, ...]

    @property
    def jobs(self) -> int:
        """Jobs on a day."""
        return sum(len(day.cards) for week in self.weeks for day in week.days)

    @property
    def orders_cost(self) -> float:
        """All orders together, in the site's currency."""
        return sum(line.cost for line in self.orders)


def outlook_of(now: Standing) -> Outlook:
    """The outlook on a site's current draft."""
    there, problem = now.there, now.there.problem
    frame = frame_of(problem)
    plan = plan_in_words(frame, spots_in(frame, pure_plan(now.draft)))
    people = tuple(bench_people(there.site))
    names = {person.username: person.display_name for person in people}
    loads = load_of(problem, plan)
    days = _days(now, loads)
    weeks = []
    for first, last in week_spans(problem.days):
        inside = range(first, last + 1)
        weeks.append(
            Week(
                problem.days[first],
                problem.days[last],
                tuple(days[n] for n in inside),
                _loads([loads[n] for n in inside], names),
                _replacements(there, plan, first, last),
                sets_used(there, plan, first, last),
                risk_of(there, plan, first, last),
            )
        )
    later, unplaced = parted(there, plan.unplaced)
    return Outlook(
        tuple(weeks),
        orders_to_place(problem, plan),
        _left_out(there, unplaced),
        _left_out(there, later),
        plan,
        there,
        people,
    )


def _people_named(numbers: Iterable[str]) -> dict[str, str]:
    """People by number, as they are called now: a name that was erased meanwhile is a number."""
    wanted = {int(number) for number in numbers if number.isdecimal()}
    return {str(person.pk): str(person) for person in Person.objects.filter(pk__in=wanted)} if wanted else {}


def _left_out(there: SitePlan, left: list[Unplaced]) -> tuple[LeftOut, ...]:
    found = [LeftOut(one.need, there.needs[one.need].due_on, one.sentence) for one in left]
    return tuple(sorted(found, key=lambda one: (one.due, one.need)))


def week_spans(days: tuple[date, ...]) -> list[tuple[int, int]]:
    """First and last day number of each calendar week, Monday to Sunday, that the days touch."""
    spans, first = [], 0
    while first < len(days):
        last = min(len(days) - 1, first + DAYS_IN_A_WEEK - 1 - days[first].weekday())
        spans.append((first, last))
        first = last + 1
    return spans


def _days(now: Standing, loads: tuple[DayLoad, ...]) -> list[Day]:
    told, hand = told_days(now.there.site), now.there.hand
    movers = _people_named(by for _day, _technician, by in hand.values())
    cards: defaultdict[date, list[Card]] = defaultdict(list)
    for job in now.draft.jobs.select_related("bow__spec_sheet", "technician"):
        ids = [entry["id"] for entry in job.needs]
        by = next((movers.get(hand[name][2], "") for name in ids if name in hand), "")
        held = any(now.there.needs[name].holds for name in ids if name in now.there.needs)
        late = any(date.fromisoformat(entry["due_on"]) < job.day for entry in job.needs if not entry["after_new_set"])
        here = all((name, job.day, job.technician.username) in told for name in ids)
        needs = tuple(
            CardNeed(str(NeedKind(entry["kind"]).label), entry["reason"], entry["why"]) for entry in job.needs
        )
        cards[job.day].append(Card(job, needs, here, by, held, late))
    return [
        Day(
            one.day,
            one.day in now.there.problem.closed,
            tuple(cards[one.day]),
            sum(one.minutes_used.values()),
            sum(one.minutes_there.values()),
        )
        for one in loads
    ]


def _loads(days: list[DayLoad], names: dict[str, str]) -> tuple[Load, ...]:
    people = [
        Load(
            names.get(who, who),
            False,
            sum(day.minutes_used[who] for day in days),
            sum(day.minutes_there[who] for day in days),
        )
        for who in sorted(days[0].minutes_used)
    ]
    press = Load("", True, sum(day.press_used for day in days), sum(day.press_there for day in days))
    return (*people, press)


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
