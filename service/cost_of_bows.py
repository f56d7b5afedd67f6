"""What the bows of a site cost: parts and labour of the signed work of a period, per bow and per 1,000 shots."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery, Sum

from fleet.models import Bow, Fitting, Shots, SignedResult, Site
from service.house import BENCH_WORK, SET_UP_MINUTES
from service.models import WorkOrder

MINUTES_PER_HOUR = 60
PER_SHOTS = 1_000
CENT = Decimal("0.01")


@dataclass(frozen=True)
class BowCost:
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


def costs_of(site: Site, since: datetime) -> list[BowCost]:
    """Every bow that had work signed or a cord replaced since an instant, the dearest first.

    A new cord that took another's place counts at the price of its spec as it stands now; an order counts with the
    minutes that it planned, one that was signed on paper alone with the house's usual minutes for its work.
    """
    parts = {bow_id: (price, unpriced) for bow_id, price, unpriced in _parts(site, since)}
    counted: dict[int, list[int]] = {bow_id: [0, 0] for bow_id in parts}
    for bow_id, count, minutes in _minutes_signed(site, since):
        entry = counted.setdefault(bow_id, [0, 0])
        entry[0] += count
        entry[1] += minutes
    costs = [
        BowCost(bow_id, count, minutes, *parts.get(bow_id, (Decimal(0), 0)), _labour(site, minutes))
        for bow_id, (count, minutes) in counted.items()
    ]
    return sorted(costs, key=lambda one: (-one.total, one.bow_id))


def _minutes_signed(site: Site, since: datetime) -> Iterator[tuple[int, int, int]]:
    """(bow, how many, bench minutes) of the results signed since: together for a bow, each on paper by itself."""
    planned = WorkOrder.objects.filter(number=OuterRef("order_number")).values("minutes")[:1]
    results = SignedResult.objects.filter(bow__site=site, signed_at__gte=since).annotate(planned=Subquery(planned))
    by_bow = results.exclude(planned=None).order_by().values_list("bow")
    yield from by_bow.annotate(count=Count("pk"), minutes=Sum("planned"))
    on_paper = results.filter(planned=None).values_list("bow", "work", "bow__spec_sheet__bow_kind")
    for bow_id, work, bow_kind in on_paper:
        kinds = [one["kind"] for one in work if one["kind"] in BENCH_WORK]
        yield bow_id, 1, SET_UP_MINUTES + sum(BENCH_WORK[kind].minutes(bow_kind) for kind in kinds)


def _parts(site: Site, since: datetime) -> Iterator[tuple[int, Decimal, int]]:
    """(bow, price of its new cords, how many of them have no price) since an instant."""
    by_bow = _cords_replaced(site, since).order_by().values_list("bow")
    yield from by_bow.annotate(price=Sum("cord__spec__price"), unpriced=Count("pk", filter=Q(cord__spec__price=0)))


def _cords_replaced(site: Site, since: datetime) -> "QuerySet[Fitting]":
    """Fittings since of new cords that took the place of another on the same bow."""
    before = Fitting.objects.filter(fitted_at__lt=OuterRef("fitted_at"))
    return Fitting.objects.filter(
        Exists(before.filter(bow=OuterRef("bow"), position=OuterRef("position"))),
        ~Exists(before.filter(cord=OuterRef("cord"))),
        bow__site=site,
        fitted_at__gte=since,
        cord__prior_use="none",
    )


def together(site: Site, costs: Sequence[BowCost]) -> SiteCost:
    """The costs of all bows added up."""
    minutes = sum(one.minutes for one in costs)
    return SiteCost(
        orders=sum(one.orders for one in costs),
        minutes=minutes,
        parts=sum((one.parts for one in costs), Decimal(0)),
        labour=_labour(site, minutes),
        without_price=sum(one.without_price for one in costs),
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
