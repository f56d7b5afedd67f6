"""From an empty book to the first printed queue: what a site has, what is missing, and where each is entered."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.models import (
    BenchHours,
    Bow,
    CordSpec,
    Fitting,
    MeasuringTool,
    Place,
    Press,
    ReferenceSet,
    SetUp,
    Shots,
    Site,
    SpecSheet,
    Stay,
)
from fleet.vocabulary import ToolKind
from service.models import CordWear, WorkOrder

Words = str | Promise
TAGS_SHOWN = 6


@dataclass(frozen=True)
class Step:
    """One step: what to enter and why; `kind` names its form, sample and file, `page` the page where it is done.

    `tags`: the first few bows that lack it, where each has a page of its own for it.
    """

    title: Words
    why: Words
    done: bool
    there: int
    lacking: int = 0
    kind: str = ""
    page: str = ""
    page_title: Words = ""
    needed: bool = True
    form: str = ""
    tags: tuple[str, ...] = ()

    @property
    def typed(self) -> str:
        """The kind of its form, where that is called otherwise than its file."""
        return self.form or self.kind


@dataclass(frozen=True)
class FirstSteps:
    """The steps of a site in their order, and the first needed one that is not done."""

    steps: tuple[Step, ...]

    @property
    def next(self) -> Step | None:
        """What to do now, if anything needed is missing."""
        return next((step for step in self.steps if step.needed and not step.done), None)

    @property
    def done(self) -> int:
        """How many needed steps are done."""
        return sum(step.done for step in self.steps if step.needed)

    @property
    def needed(self) -> int:
        """How many steps are needed."""
        return sum(step.needed for step in self.steps)


def first_steps(site: Site) -> FirstSteps:
    """Where a site stands, from its data; a number of queries that does not grow with it."""
    bows = Bow.objects.filter(site=site, retirement=None)
    count = bows.count()
    return FirstSteps((*_house(site), *_bench(site), *_fleet(site, count, _lacking(site)), *_work(site, count)))


def _lacking(site: Site) -> Callable[..., int]:
    """Counts the bows of a site that have none of a kind of row."""

    def count(rows: QuerySet[Any]) -> int:
        return Bow.objects.filter(~Exists(rows), site=site, retirement=None).count()

    return count


def _first_without_references(site: Site) -> tuple[str, ...]:
    current = ReferenceSet.objects.filter(current=True, bow=OuterRef("pk"))
    bows = Bow.objects.filter(~Exists(current), site=site, retirement=None).order_by("tag")
    return tuple(bows.values_list("tag", flat=True)[:TAGS_SHOWN])


def _house(site: Site) -> list[Step]:
    places = Place.objects.filter(site=site).count()
    sheets = SpecSheet.objects.filter(cords__isnull=False).distinct().count()
    cords = CordSpec.objects.count()
    rate = bool(site.labour_rate_per_hour)
    return [
        Step(
            _("The site and its house settings"),
            _("Time zone, units, opening days and the labour rate: dates and costs hang on them."),
            rate and bool(site.opening_weekdays),
            int(rate),
            kind="sites",
        ),
        Step(
            _("Places"),
            _("Racks, lockers, trailers and vehicles, and where each one's temperature comes from: heat wears cords."),
            places > 0,
            places,
            kind="places",
        ),
        Step(
            _("Makes of cord"),
            _("From the maker's sheets: each make of string and cable, and the use that it is rated for."),
            cords > 0,
            cords,
            kind="specs",
            form="cord-specs",
        ),
        Step(
            _("Makes of bow"),
            _("From the maker's sheets: draw lengths, peak weights, and which make of cord sits where."),
            sheets > 0,
            sheets,
            kind="specs",
            form="spec-sheets",
        ),
    ]


def _bench(site: Site) -> list[Step]:
    hours = BenchHours.objects.filter(Q(person__posts__site=site) | Q(person__posts__site=None), minutes__gt=0)
    people = hours.values("person").distinct().count()
    tools = MeasuringTool.objects.filter(site=site).exclude(kind=ToolKind.LOGGER).count()
    presses = Press.objects.filter(site=site).count()
    return [
        Step(
            _("People at the bench"),
            _("At least one technician with skills and bench minutes: without them nothing can be planned."),
            people > 0,
            people,
            kind="people",
        ),
        Step(
            _("Presses"),
            _("A press that fits the bows, for work on cables and cams. None is needed for recurves and longbows."),
            presses > 0,
            presses,
            kind="presses",
            needed=False,
        ),
        Step(
            _("Measuring tools"),
            _("The rule, scale and draw board that references are read with, and until when they are calibrated."),
            tools > 0,
            tools,
            kind="tools",
        ),
    ]


def _fleet(site: Site, bows: int, lacking: Callable[..., int]) -> list[Step]:
    mine = {"bow": OuterRef("pk")}
    cords = lacking(Fitting.objects.filter(removed_at=None, **mine))
    set_ups = lacking(SetUp.objects.filter(**mine))
    stays = lacking(Stay.objects.filter(end=None, **mine))
    return [
        Step(
            _("Bows"),
            _("Each with its tag, make, hand, draw length and peak weight as it is set up now."),
            bows > 0 and set_ups == 0,
            bows,
            set_ups,
            kind="bows",
        ),
        Step(
            _("Strings and cables on the bows"),
            _("Serial, lot, when fitted, and the use before the book began: known, or inspected before hire."),
            bows > 0 and cords == 0,
            bows - cords,
            cords,
            kind="cords",
        ),
        _references(site, bows, lacking(ReferenceSet.objects.filter(current=True, **mine))),
        Step(
            _("Where the bows are"),
            _("The place of each bow from when on, so that its heat is counted."),
            bows > 0 and stays == 0,
            bows - stays,
            stays,
            kind="stays",
            needed=False,
        ),
    ]


def _references(site: Site, bows: int, lacking: int) -> Step:
    return Step(
        _("Reference measurements"),
        _("Off the draw board while a bow shoots well: the setting that the bench brings it back to."),
        bows > 0 and lacking == 0,
        bows - lacking,
        lacking,
        kind="references",
        tags=_first_without_references(site) if lacking else (),
    )


def _work(site: Site, bows: int) -> list[Step]:
    shots = Shots.objects.filter(bow__site=site).exists()
    wears = CordWear.objects.filter(fitting__removed_at=None, fitting__bow__site=site).count()
    orders = WorkOrder.objects.filter(site=site).count()
    return [
        Step(
            _("Shots"),
            _("What was shot so far, by counter, scorecard or hours; later it comes from the counter, guest by guest."),
            shots,
            int(shots),
            kind="shots",
            needed=False,
        ),
        Step(
            _("Wear and dates are computed"),
            _("By itself, within a minute or two after bows and cords are in. Nothing to enter."),
            bows > 0 and wears > 0,
            wears,
            page="due",
            page_title=_("To the due list"),
        ),
        Step(
            _("The first order is issued"),
            _("Issue the day's orders in the bench queue, or one order on a bow's page; then print the queue."),
            orders > 0,
            orders,
            page="queue",
            page_title=_("To the bench queue"),
        ),
    ]
