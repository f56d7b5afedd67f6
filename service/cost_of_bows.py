"""What the bows of a site cost: parts and labour of the signed work of a period, per bow and per 1,000 shots."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, NamedTuple, overload

import numpy as np
from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Sum

from fleet.models import Bow, Fitting, Shots, SignedResult, Site
from service.columns import columns
from service.house import BENCH_WORK, SET_UP_MINUTES
from service.models import WorkOrder
from service.wear.arrays import Ints

MINUTES_PER_HOUR = 60
PER_SHOTS = 1_000
CENT = Decimal("0.01")


class BowCost(NamedTuple):
    """One bow over the period: signed orders, cords replaced, bench minutes at the site's rate."""

    bow_id: int
    orders: int
    minutes: int
    parts: Decimal
    without_price: int
    labour: Decimal

    @property
    def total(self) -> Decimal:
        """Parts and labour."""
        return self.parts + self.labour


@dataclass(frozen=True, eq=False)
class BowCosts(Sequence[BowCost]):
    """The costs of many bows in an order; those that are looked at become records."""

    bow_ids: Ints
    table: Ints
    """Five rows: orders, minutes, cents of parts, cords without a price, cents of labour."""

    def __len__(self) -> int:
        return int(self.bow_ids.size)

    @overload
    def __getitem__(self, which: int) -> BowCost: ...

    @overload
    def __getitem__(self, which: slice) -> list[BowCost]: ...

    def __getitem__(self, which: int | slice) -> BowCost | list[BowCost]:
        if isinstance(which, slice):
            return [self[at] for at in range(*which.indices(len(self)))]
        orders, minutes, parts, unpriced, labour = self.table[:, which].tolist()
        return BowCost(int(self.bow_ids[which]), orders, minutes, _money(parts), unpriced, _money(labour))


@dataclass(frozen=True)
class CostLine:
    """A bow's cost with its shots; `per_shots` is None where none were recorded."""

    bow: Bow
    cost: BowCost
    shots: int

    @property
    def per_shots(self) -> Decimal | None:
        """The cost of PER_SHOTS shots."""
        return per_shots(self.cost.total, self.shots)


@dataclass(frozen=True)
class SiteCost:
    """All bows of a site together; `without_price` counts fitted cords whose spec has no price."""

    orders: int
    minutes: int
    parts: Decimal
    labour: Decimal
    without_price: int

    @property
    def total(self) -> Decimal:
        """Parts and labour."""
        return self.parts + self.labour


def per_shots(total: Decimal, shots: int) -> Decimal | None:
    """The cost of PER_SHOTS shots, or None where there were none."""
    return (total * PER_SHOTS / shots).quantize(CENT) if shots else None


def costs_of(site: Site, since: datetime) -> BowCosts:
    """Every bow that had work signed or a cord replaced since an instant, the dearest first.

    A new cord that took another's place counts at the price of its spec as it stands now; an order counts with the
    minutes that it planned, one that was signed on paper alone with the house's usual minutes for its work.
    """
    bow, orders, minutes = _signed(site, since)
    parts = {bow_id: (price, unpriced) for bow_id, price, unpriced in _parts(site, since)}
    bows, which = np.unique(np.concatenate([bow, np.array(list(parts), dtype=np.int64)]), return_inverse=True)
    signed, replaced = which[: bow.size], which[bow.size :]
    table = np.zeros((5, bows.size), dtype=np.int64)
    np.add.at(table[0], signed, orders)
    np.add.at(table[1], signed, minutes)
    table[2, replaced] = [_cents(price) for price, _unpriced in parts.values()]
    table[3, replaced] = [unpriced for _price, unpriced in parts.values()]
    # Thousands of bows have few different minutes.
    worked, rows = np.unique(table[1], return_inverse=True)
    table[4] = np.array([_cents(_labour(site, int(one))) for one in worked.tolist()], dtype=np.int64)[rows]
    dearest_first = np.lexsort((bows, -(table[2] + table[4])))
    return BowCosts(bows[dearest_first], table[:, dearest_first])


def _signed(site: Site, since: datetime) -> tuple[Ints, Ints, Ints]:
    """Bow, how many, bench minutes of what was signed since; a bow may come several times.

    A result is signed in the same act as its order and at the same instant: of those, the orders tell everything.
    """
    orders = WorkOrder.objects.filter(bow__site=site, signed_at__gte=since).values("bow")
    counted = columns(orders.annotate(count=Count("*"), worked=Sum("minutes")), "bow", "count", "worked")
    results = SignedResult.objects.filter(bow__site=site, signed_at__gte=since)
    on_paper = results.filter(~Exists(WorkOrder.objects.filter(number=OuterRef("order_number"))))
    papers = [
        (bow_id, 1, _usual_minutes(work, bow_kind))
        for bow_id, work, bow_kind in on_paper.values_list("bow", "work", "bow__spec_sheet__bow_kind")
    ]
    rows = np.concatenate([np.array(counted), np.array(papers).reshape(-1, 3).T], axis=1).astype(np.int64)
    return rows[0], rows[1], rows[2]


def _usual_minutes(work: list[dict[str, Any]], bow_kind: str) -> int:
    kinds = [one["kind"] for one in work if one["kind"] in BENCH_WORK]
    return SET_UP_MINUTES + sum(BENCH_WORK[kind].minutes(bow_kind) for kind in kinds)


def _parts(site: Site, since: datetime) -> Iterator[tuple[int, Decimal, int]]:
    """(bow, price of its new cords, how many of them have no price) since an instant."""
    by_bow = _cords_replaced(site, since).order_by().values_list("bow")
    yield from by_bow.annotate(price=Sum("cord__spec__price"), unpriced=Count("pk", filter=Q(cord__spec__price=0)))


def _cords_replaced(site: Site, since: datetime) -> "QuerySet[Fitting]":
    """Fittings since of new cords that took the place of another on the same bow."""
    # What was fitted before at the same place, or is the same cord, is off by now: few rows to look through.
    before = Fitting.objects.filter(fitted_at__lt=OuterRef("fitted_at"), removed_at__isnull=False)
    return Fitting.objects.filter(
        Exists(before.filter(bow=OuterRef("bow"), position=OuterRef("position"))),
        ~Exists(before.filter(cord=OuterRef("cord"))),
        bow__site=site,
        fitted_at__gte=since,
        cord__prior_use="none",
    )


def together(site: Site, costs: BowCosts) -> SiteCost:
    """The costs of all bows added up."""
    orders, minutes, parts, unpriced, _by_bow = costs.table.sum(axis=1).tolist()
    return SiteCost(
        orders=orders,
        minutes=minutes,
        parts=_money(parts),
        labour=_labour(site, minutes),
        without_price=unpriced,
    )


def lines_of(costs: Sequence[BowCost], since: datetime) -> list[CostLine]:
    """The costs with their bows and the shots of the period; two queries. Costs a shot for these bows alone."""
    bows = Bow.objects.select_related("spec_sheet").in_bulk([one.bow_id for one in costs])
    shots = Shots.objects.filter(bow__in=bows, superseded_at=None, start__gte=since).order_by()
    counts = dict(shots.values_list("bow").annotate(all=Sum("count")))
    return [CostLine(bows[one.bow_id], one, counts.get(one.bow_id, 0)) for one in costs]


def shots_since(site: Site, since: datetime) -> int:
    """All shots of the site's bows since an instant. Reads every entry: for a page that is asked for it."""
    shots = Shots.objects.filter(bow__site=site, superseded_at=None, start__gte=since)
    return shots.aggregate(all=Sum("count"))["all"] or 0


def _labour(site: Site, minutes: int) -> Decimal:
    return (site.labour_rate_per_hour * minutes / MINUTES_PER_HOUR).quantize(CENT)


def _cents(money: Decimal) -> int:
    return int(money.scaleb(2))


def _money(cents: int) -> Decimal:
    return Decimal(cents).scaleb(-2)
