"""Parts: when a plan uses which cords, how stock runs, and what to order by when.

Placed needs use their cords on their day. A need that is unplaced for want of anything but being cheaper
later still wants its cords, on its due day (or the plan's first day, whichever is later): that is what to
order for.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from service.plan.outcome import Limit, Plan
from service.plan.problem import Need, PartStock, PlanProblem

NOT_WANTED_NOW = (Limit.CHEAPER, Limit.LEADER, Limit.NEXT_PLAN)


@dataclass(frozen=True)
class StockDay:
    """End of a day: cords used and come in on it, and on hand after it."""

    day: date
    used: int
    arrived: int
    on_hand: int


@dataclass(frozen=True)
class ToOrder:
    """Cords to order: to be here by `needed_by`, so to be ordered by `order_by` (needed_by less lead days).

    `late`: order_by is past; ordered on the plan's first day they come on `earliest_arrival`. `for_needs`
    is empty when the line only refills the stock to its reorder point. `cost` in the site's currency.
    """

    cord_spec: str
    count: int
    needed_by: date
    order_by: date
    late: bool
    earliest_arrival: date
    cost: float
    for_needs: tuple[str, ...]


@dataclass(frozen=True)
class OrderLine(ToOrder):
    """The same with its reason in words."""

    sentence: str


def stock_run(problem: PlanProblem, plan: Plan) -> dict[str, tuple[StockDay, ...]]:
    """Per cord spec, the stock at the end of each day of the horizon under the plan; never negative."""
    uses = _planned_uses(problem, plan)
    return {spec: _run(problem, stock, uses[spec]) for spec, stock in _stocks(problem).items()}


def orders_to_place(problem: PlanProblem, plan: Plan) -> tuple[OrderLine, ...]:
    """What to order by when, soonest first: one line per cord spec and day on which stock would run out, and
    one per spec that the plan takes below its reorder point."""
    wishes = _planned_uses(problem, plan)
    for need in _still_wanting(problem, plan):
        day = max(problem.days[0], need.due)
        for use in need.parts:
            wishes[use.cord_spec].append((day, use.count, need.id))
    lines = [line for spec, stock in _stocks(problem).items() for line in _lines(problem, stock, sorted(wishes[spec]))]
    return tuple(sorted(lines, key=lambda line: (line.order_by, line.cord_spec, line.needed_by)))


Uses = dict[str, list[tuple[date, int, str]]]
"""cord spec -> (day, count, need)"""


def _planned_uses(problem: PlanProblem, plan: Plan) -> Uses:
    uses: defaultdict[str, list[tuple[date, int, str]]] = defaultdict(list)
    for placement in plan.placements:
        for use in problem.need_by_id[placement.need].parts:
            uses[use.cord_spec].append((placement.day, use.count, placement.need))
    return uses


def _still_wanting(problem: PlanProblem, plan: Plan) -> list[Need]:
    return [problem.need_by_id[u.need] for u in plan.unplaced if u.limit not in NOT_WANTED_NOW]


def _stocks(problem: PlanProblem) -> dict[str, PartStock]:
    """Every cord spec that is stocked or wanted; one without a stock record has none and no lead time."""
    named = sorted({use.cord_spec for need in problem.needs for use in need.parts})
    known = {stock.cord_spec: stock for stock in problem.stock}
    return {spec: known.get(spec, PartStock(spec, 0)) for spec in sorted({*named, *known})}


def _run(problem: PlanProblem, stock: PartStock, uses: list[tuple[date, int, str]]) -> tuple[StockDay, ...]:
    days, on_hand = [], stock.on_hand
    for day in problem.days:
        used = sum(count for on, count, _ in uses if on == day)
        arrived = sum(a.count for a in stock.arrivals if _comes_on(problem, a.day) == day)
        on_hand += arrived - used
        days.append(StockDay(day, used, arrived, on_hand))
    return tuple(days)


def _comes_on(problem: PlanProblem, day: date) -> date:
    """An order that should have come already is expected on the first morning."""
    return max(problem.days[0], day)


def _lines(problem: PlanProblem, stock: PartStock, uses: list[tuple[date, int, str]]) -> list[OrderLine]:
    """Walk through the uses in order of day; whatever stock and arrivals do not cover has to be ordered."""
    short: defaultdict[date, list[tuple[int, str]]] = defaultdict(list)
    used = ordered = 0
    for day, count, need in uses:
        there = stock.on_hand + sum(a.count for a in stock.arrivals if _comes_on(problem, a.day) <= day)
        used += count
        missing = used - there - ordered
        if missing > 0:
            short[day].append((missing, need))
            ordered += missing
    lines = [_for_needs(problem, stock, day, wanted) for day, wanted in short.items()]
    left = stock.on_hand + sum(a.count for a in stock.arrivals) + ordered - used
    if left < stock.reorder_point:
        lines.append(_refill(problem, stock, uses, left))
    return lines


def _for_needs(problem: PlanProblem, stock: PartStock, day: date, wanted: list[tuple[int, str]]) -> OrderLine:
    needs = tuple(sorted(need for _, need in wanted))
    reason = f"for {', '.join(needs)}"
    return _line(problem, stock, sum(count for count, _ in wanted), day, needs, reason)


def _refill(problem: PlanProblem, stock: PartStock, uses: list[tuple[date, int, str]], left: int) -> OrderLine:
    """Back up to the reorder point, by the day of the last use (or today when the plan uses none)."""
    day = max((on for on, _, _ in uses), default=problem.days[0])
    reason = f"stock ends at {left}, below the reorder point of {stock.reorder_point}"
    return _line(problem, stock, stock.reorder_point - left, day, (), reason)


def _line(
    problem: PlanProblem, stock: PartStock, count: int, day: date, needs: tuple[str, ...], reason: str
) -> OrderLine:
    today = problem.days[0]
    order_by = day - timedelta(days=stock.lead_days)
    arrival = today + timedelta(days=stock.lead_days)
    late = order_by < today
    when = f"order today: it comes on {arrival.isoformat()}, too late" if late else f"order by {order_by.isoformat()}"
    return OrderLine(
        cord_spec=stock.cord_spec,
        count=count,
        needed_by=day,
        order_by=order_by,
        late=late,
        earliest_arrival=arrival,
        cost=count * stock.price,
        for_needs=needs,
        sentence=f"{count} of cord spec {stock.cord_spec} by {day.isoformat()}, {reason}: {when}.",
    )
