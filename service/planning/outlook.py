"""The manager's outlook: the draft week by week, its jobs as cards, with the figures that were kept with the draft."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from fleet.models import Person
from service.models import NeedKind, Plan, PlannedJob
from service.planning.bench import bench_people
from service.planning.figures import DayFigures, LeftOut, Load, PlanFigures, Risk, ToOrder, WeekFigures
from service.planning.told import by_hand, told_days


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


@dataclass(frozen=True)
class Outlook:
    """Everything on the page."""

    weeks: tuple[Week, ...]
    orders: tuple[ToOrder, ...]
    unplaced: tuple[LeftOut, ...]
    later: tuple[LeftOut, ...]
    stopped_by: tuple[str, ...]

    @property
    def jobs(self) -> int:
        """Jobs on a day."""
        return sum(len(day.cards) for week in self.weeks for day in week.days)

    @property
    def orders_cost(self) -> float:
        """All orders together, in the site's currency."""
        return sum(line.cost for line in self.orders)


def outlook_of(draft: Plan, figures: PlanFigures) -> Outlook:
    """The outlook on a draft with its figures."""
    cards = _cards(draft, set(figures.holding))
    names = {person.username: person.display_name for person in bench_people(draft.site)}
    weeks = tuple(_week(week, cards, names) for week in figures.weeks)
    return Outlook(weeks, figures.orders, figures.unplaced, figures.later, figures.stopped_by)


def _week(week: WeekFigures, cards: dict[date, list[Card]], names: dict[str, str]) -> Week:
    return Week(
        week.days[0].day,
        week.days[-1].day,
        tuple(_day(one, cards.get(one.day, [])) for one in week.days),
        tuple(replace(load, name=names.get(load.name, load.name)) for load in week.loads),
        week.replacements,
        week.sets,
        week.risk,
    )


def _day(one: DayFigures, cards: list[Card]) -> Day:
    return Day(one.day, one.closed, tuple(cards), one.used, one.there)


def _people_named(numbers: Iterable[str]) -> dict[str, str]:
    """People by number, as they are called now: a name that was erased meanwhile is a number."""
    wanted = {int(number) for number in numbers if number.isdecimal()}
    return {str(person.pk): str(person) for person in Person.objects.filter(pk__in=wanted)} if wanted else {}


def _cards(draft: Plan, holding: set[str]) -> dict[date, list[Card]]:
    told, hand = told_days(draft.site, draft.first_day), by_hand(draft)
    movers = _people_named(by for _day, _technician, by in hand.values())
    cards: defaultdict[date, list[Card]] = defaultdict(list)
    for job in draft.jobs.select_related("bow", "technician"):
        ids = [entry["id"] for entry in job.needs]
        by = next((movers.get(hand[name][2], "") for name in ids if name in hand), "")
        late = any(date.fromisoformat(entry["due_on"]) < job.day for entry in job.needs if not entry["after_new_set"])
        here = all((name, job.day, job.technician.username) in told for name in ids)
        needs = tuple(
            CardNeed(str(NeedKind(entry["kind"]).label), entry["reason"], entry["why"]) for entry in job.needs
        )
        cards[job.day].append(Card(job, needs, here, by, bool(holding.intersection(ids)), late))
    return cards
