"""The manager's outlook: the draft week by week, its jobs as cards, with the figures that were kept with the draft."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import Count

from fleet.models import Person
from service.models import NeedKind, Plan, PlannedJob
from service.plan.parts import ToOrder
from service.planning.bench import bench_people
from service.planning.figures import DayFigures, LeftOut, Load, PlanFigures, Risk, WeekFigures
from service.planning.told import by_hand, told_days

MOST_CARDS = 60
"""So many jobs are shown at first, whole weeks of them: each is a card with its reasons."""


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
class Week:
    """Monday to Sunday, or what of it the plan covers."""

    first: date
    last: date
    days: tuple[Day, ...]
    loads: tuple[Load, ...]
    replacements: int
    sets: dict[str, int]
    risk: Risk
    jobs: int
    is_shown: bool
    """Whether its jobs are on the page; a plan of many jobs shows its first weeks, and others when asked."""


@dataclass(frozen=True)
class Outlook:
    """Everything on the page. `jobs`: on a day, of all weeks."""

    weeks: tuple[Week, ...]
    orders: tuple[ToOrder, ...]
    unplaced: tuple[LeftOut, ...]
    unplaced_count: int
    later: tuple[LeftOut, ...]
    later_count: int
    stopped_by: tuple[str, ...]
    assumed: tuple[str, ...]
    jobs: int

    @property
    def orders_cost(self) -> float:
        """All orders together, in the site's currency."""
        return sum(line.cost for line in self.orders)


def outlook_of(draft: Plan, figures: PlanFigures, week: date | None = None) -> Outlook:
    """The outlook on a draft with its figures; `week`: a day whose week is to be shown whatever the number of jobs."""
    on_day = dict(draft.jobs.order_by().values_list("day").annotate(count=Count("pk")))
    shown = _weeks_shown(figures.weeks, on_day, week)
    cards = _cards(draft, [one.day for n in shown for one in figures.weeks[n].days], set(figures.holding))
    names = {person.username: person.display_name for person in bench_people(draft.site)}
    weeks = tuple(_week(one, n in shown, on_day, cards, names) for n, one in enumerate(figures.weeks))
    return Outlook(
        weeks,
        figures.orders,
        figures.unplaced,
        figures.unplaced_count,
        figures.later,
        figures.later_count,
        figures.stopped_by,
        figures.assumed,
        sum(on_day.values()),
    )


def _weeks_shown(weeks: tuple[WeekFigures, ...], on_day: dict[date, int], week: date | None) -> set[int]:
    """Numbers of the weeks whose jobs are shown: the first, those after it up to MOST_CARDS jobs, and one asked for."""
    jobs = 0
    shown: set[int] = set()
    for number, one in enumerate(weeks):
        jobs += _jobs_of(one, on_day)
        if number == 0 or jobs <= MOST_CARDS or (week is not None and one.days[0].day <= week <= one.days[-1].day):
            shown.add(number)
    return shown


def _jobs_of(week: WeekFigures, on_day: dict[date, int]) -> int:
    return sum(on_day.get(one.day, 0) for one in week.days)


def _week(
    week: WeekFigures, is_shown: bool, on_day: dict[date, int], cards: dict[date, list[Card]], names: dict[str, str]
) -> Week:
    return Week(
        week.days[0].day,
        week.days[-1].day,
        tuple(_day(one, cards.get(one.day, [])) for one in week.days),
        tuple(replace(load, name=names.get(load.name, load.name)) for load in week.loads),
        week.replacements,
        week.sets,
        week.risk,
        _jobs_of(week, on_day),
        is_shown,
    )


def _day(one: DayFigures, cards: list[Card]) -> Day:
    return Day(one.day, one.closed, tuple(cards), one.used, one.there)


def _people_named(numbers: Iterable[str]) -> dict[str, str]:
    """People by number, as they are called now: a name that was erased meanwhile is a number."""
    wanted = {int(number) for number in numbers if number.isdecimal()}
    return {str(person.pk): str(person) for person in Person.objects.filter(pk__in=wanted)} if wanted else {}


def _cards(draft: Plan, days: list[date], holding: set[str]) -> dict[date, list[Card]]:
    told, hand = told_days(draft.site, draft.first_day), by_hand(draft)
    movers = _people_named(by for _day, _technician, by in hand.values())
    cards: defaultdict[date, list[Card]] = defaultdict(list)
    for job in draft.jobs.filter(day__in=days).select_related("bow", "technician"):
        ids = [entry["id"] for entry in job.needs]
        by = next((movers.get(hand[name][2], "") for name in ids if name in hand), "")
        late = any(date.fromisoformat(entry["due_on"]) < job.day for entry in job.needs if not entry["after_new_set"])
        here = all((name, job.day, job.technician.username) in told for name in ids)
        needs = tuple(
            CardNeed(str(NeedKind(entry["kind"]).label), entry["reason"], entry["why"]) for entry in job.needs
        )
        cards[job.day].append(Card(job, needs, here, by, bool(holding.intersection(ids)), late))
    return cards
