"""What a site has of each cord, what its plan takes and when, what is on its way, and what to order by when.

The arithmetic is `service.plan.parts`; here the saved plan and the register become its problem.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef, Prefetch, Q

from fleet import lookups
from fleet.models import Bow, CordSpec, Site, SpecSheetCord, StockMovement, SupplierOrder
from service.models import Need, OrderNeed, OrderStatus, Plan, WorkOrder
from service.plan.outcome import Limit, Placement, Unplaced
from service.plan.outcome import Plan as PlanOutcome
from service.plan.parts import OrderLine, StockDay, orders_to_place, stock_run
from service.plan.problem import LONGEST_HORIZON_DAYS, NeedKind, PartStock, PartUse, PlanProblem
from service.plan.problem import Need as PlanNeed
from service.planning.shelf import part_stock
from service.schedule import DEFAULT_DAYS, today_at


@dataclass(frozen=True)
class PartLine:
    """One cord spec at a site. `reserved`: cords that the plan uses; `begun`: cords that orders in work have taken
    and will sign for; `run`: the end of each day under the plan, never below nothing."""

    spec: CordSpec
    on_hand: int
    begun: int
    reserved: int
    on_order: int
    next_arrival: date | None
    run: tuple[StockDay, ...]

    @property
    def at_end(self) -> int:
        """On the shelf at the end of the plan, if all comes as expected."""
        return self.run[-1].on_hand if self.run else self.on_hand

    @property
    def is_low(self) -> bool:
        """Whether the plan ends below the reorder point."""
        return self.at_end < self.spec.reorder_point


@dataclass(frozen=True)
class ReorderLine:
    """Cords of one spec to order by a day; `bows` are the tags that they are for, none where the shelf is refilled."""

    spec: CordSpec
    order: OrderLine
    bows: tuple[str, ...]


@dataclass(frozen=True)
class Shelf:
    """The parts of a site under its saved plan (`plan` None: none was made yet, each need wants its cords when due).

    `short`: tags of bows whose planned cords have left the shelf since the plan was made; they are to be ordered.
    """

    site: Site
    today: date
    last_day: date
    plan: Plan | None
    lines: tuple[PartLine, ...]
    to_order: tuple[ReorderLine, ...]
    short: tuple[str, ...]

    @property
    def cost(self) -> float:
        """What all that is to be ordered costs, in the site's currency."""
        return sum(line.order.cost for line in self.to_order)

    def line_of(self, code: str) -> PartLine | None:
        """The line of one cord spec."""
        return next((line for line in self.lines if line.spec.code == code), None)


@dataclass(frozen=True)
class _Wanted:
    """Needs that use cords, with the day on which the plan does each (None: it has no day)."""

    needs: dict[str, Need]
    day_of: dict[str, date | None] = field(default_factory=dict)


def shelf_of(site: Site, now: datetime) -> Shelf:
    """The parts of a site as of now. Nothing is planned here: the saved plan counts, however old it is."""
    today = today_at(site, now)
    plan = saved_plan(site, today)
    ahead = (plan.first_day - today).days + plan.days if plan else DEFAULT_DAYS
    days = tuple(today + timedelta(n) for n in range(min(max(ahead, DEFAULT_DAYS), LONGEST_HORIZON_DAYS)))
    specs = _specs_of(site)
    lead_days = {spec.code: spec.lead_days for spec in specs}
    wanted = _to_be_ordered_by(days[-1], _wanted(site, plan, days), lead_days)
    problem = _problem(site, days, specs, wanted)
    outcome, short = _outcome(wanted, problem)
    run = stock_run(problem, outcome)
    on_order = _on_order(site)
    there = lookups.shelf_counts(site)
    lines = tuple(_line(spec, there.get(spec.pk, 0), problem, run, on_order[spec.pk]) for spec in specs)
    by_code = {spec.code: spec for spec in specs}
    to_order = tuple(
        ReorderLine(by_code[line.cord_spec], line, tuple(sorted({wanted.needs[n].bow.tag for n in line.for_needs})))
        for line in orders_to_place(problem, outcome)
    )
    return Shelf(site, today, days[-1], plan, lines, to_order, tuple(sorted({wanted.needs[n].bow.tag for n in short})))


def saved_plan(site: Site, today: date) -> Plan | None:
    """The draft, which keeps what is published; else the plan published last. One that has run out is none."""
    # The report of a large plan is long, and nobody here reads it.
    plans = Plan.objects.filter(site=site).defer("report").order_by("-made_at")
    plan = plans.filter(published_at=None).first() or plans.first()
    return plan if plan is not None and plan.first_day + timedelta(days=plan.days) > today else None


def _specs_of(site: Site) -> list[CordSpec]:
    """Cord specs that the site's bows take, or that it has or had on its shelf or on order."""
    codes = Need.objects.filter(bow__site=site).exclude(parts={}).values_list("parts", flat=True).distinct()
    # Each by itself and up to the first one found: joined, every bow of a spec meets every movement of it.
    bows = Bow.objects.filter(site=site, spec_sheet=OuterRef("spec_sheet"), retirement=None)
    mine = (
        Exists(SpecSheetCord.objects.filter(Exists(bows), cord_spec=OuterRef("pk")))
        | Exists(StockMovement.objects.filter(site=site, cord_spec=OuterRef("pk")))
        | Exists(SupplierOrder.objects.filter(site=site, cord_spec=OuterRef("pk")))
        | Q(code__in={code for parts in codes for code in parts})
    )
    return list(CordSpec.objects.filter(mine).order_by("code"))


def _wanted(site: Site, plan: Plan | None, days: tuple[date, ...]) -> _Wanted:
    """A bow with an order in work has its cords already; every other need for cords counts, planned or not."""
    busy = WorkOrder.objects.filter(site=site, status__in=[OrderStatus.IN_WORK, OrderStatus.SIGNED]).values("bow")
    rows = (
        Need.objects.filter(bow__site=site)
        .exclude(parts={})
        .exclude(bow__in=busy)
        .select_related("bow")
        .defer("reason")
    )
    needs = {str(need.pk): need for need in rows}
    planned: dict[tuple[int, str], date] = {}
    if plan is not None:
        for job in plan.jobs.filter(day__gte=days[0]).order_by("day"):
            for entry in job.needs:
                planned.setdefault((job.bow_id, entry["kind"]), job.day)
    ordered = WorkOrder.objects.filter(site=site, status=OrderStatus.ISSUED).only("bow", "day")
    ordered = ordered.prefetch_related(Prefetch("needs", OrderNeed.objects.only("order", "kind")))
    for order in ordered:
        for one in order.needs.all():
            planned[order.bow_id, one.kind] = max(days[0], order.day)
    last = days[-1]
    found = {key: planned.get((need.bow_id, need.kind)) for key, need in needs.items()}
    return _Wanted(needs, {key: day if day is not None and day <= last else None for key, day in found.items()})


def _to_be_ordered_by(last: date, wanted: _Wanted, lead_days: dict[str, int]) -> _Wanted:
    """Without the needs so far off that even their slowest cord need not be ordered within the plan's days."""
    kept = {}
    for key, day in wanted.day_of.items():
        need = wanted.needs[key]
        lead = timedelta(days=max(lead_days.get(code, 0) for code in need.parts))
        if day is not None or need.due_on - lead <= last:
            kept[key] = day
    return _Wanted({key: wanted.needs[key] for key in kept}, kept)


def _problem(site: Site, days: tuple[date, ...], specs: list[CordSpec], wanted: _Wanted) -> PlanProblem:
    """A problem that holds nothing but what uses cords and the shelf."""
    nothing = (0.0,) * len(days)
    return PlanProblem(
        site=site.code,
        currency=site.currency,
        days=days,
        technicians=(),
        press_visits=(0,) * len(days),
        needs=tuple(
            PlanNeed(
                id=key,
                bow=need.bow.tag,
                kind=NeedKind.REPLACEMENT,
                skill=need.skill,
                bench_min=need.minutes,
                setup_min=0,
                needs_press=need.needs_press,
                earliest=min(need.earliest_on, need.due_on),
                due=need.due_on,
                early_cost=nothing,
                late_cost=nothing,
                unplaced_cost=0.0,
                parts=tuple(PartUse(code, count) for code, count in sorted(need.parts.items())),
            )
            for key, need in wanted.needs.items()
        ),
        stock=part_stock(site, [spec.code for spec in specs], days[0]),
    )


def _outcome(wanted: _Wanted, problem: PlanProblem) -> tuple[PlanOutcome, list[str]]:
    """Needs with a day are placed while their cords last; all others still want theirs. And which ran short.

    The shelf may have changed since the plan was saved: what is no longer there cannot be used.
    """
    stock = {one.cord_spec: one for one in problem.stock}
    used: Counter[str] = Counter()
    placed, left, short = [], [], []
    for key, day in sorted(wanted.day_of.items(), key=lambda one: (one[1] or problem.days[-1], one[0])):
        parts = wanted.needs[key].parts
        if day is None:
            left.append(Unplaced(key, Limit.WINDOW, ""))
        elif any(used[code] + count > _there_by(stock.get(code), day) for code, count in parts.items()):
            left.append(Unplaced(key, Limit.PART, ""))
            short.append(key)
        else:
            used.update(parts)
            placed.append(Placement(key, day, ""))
    return PlanOutcome(tuple(placed), (), tuple(left), ()), short


def _there_by(stock: PartStock | None, day: date) -> int:
    return 0 if stock is None else stock.on_hand + sum(one.count for one in stock.arrivals if one.day <= day)


def _on_order(site: Site) -> defaultdict[int, list[SupplierOrder]]:
    found: defaultdict[int, list[SupplierOrder]] = defaultdict(list)
    for order in open_orders(site):
        found[order.cord_spec_id].append(order)
    return found


def open_orders(site: Site) -> list[SupplierOrder]:
    """What is on its way, the soonest first."""
    waiting = SupplierOrder.objects.filter(site=site, received_at=None, cancelled_at=None)
    return list(waiting.select_related("cord_spec", "site").order_by("expected_on", "reference"))


def _line(
    spec: CordSpec,
    on_hand: int,
    problem: PlanProblem,
    run: dict[str, tuple[StockDay, ...]],
    orders: list[SupplierOrder],
) -> PartLine:
    free = next(stock.on_hand for stock in problem.stock if stock.cord_spec == spec.code)
    return PartLine(
        spec=spec,
        on_hand=on_hand,
        begun=max(0, on_hand - free),
        reserved=sum(day.used for day in run[spec.code]),
        on_order=sum(order.quantity for order in orders),
        next_arrival=min((order.expected_on for order in orders), default=None),
        run=run[spec.code],
    )
