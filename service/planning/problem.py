"""Everything that decides one site's plan, gathered from the register and the computed rows."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleet.models import Bow, Site
from service import models
from service.gather import Coefficients, coefficients
from service.house import BENCH_WORK, SET_UP_MINUTES
from service.plan.problem import (
    LONGEST_HORIZON_DAYS,
    SHORTEST_HORIZON_DAYS,
    Need,
    NeedKind,
    PartStock,
    PartUse,
    PlanProblem,
    SolveLimits,
)
from service.planning import need_costs
from service.planning.bench import closed_days, press_visits, technicians
from service.planning.bookings import promises
from service.planning.facts import Facts, NamedNeed, calls_for_settle_in, named, open_needs, saved_facts
from service.planning.hires import BowAhead, bows_ahead
from service.planning.need_costs import Days, SetParts, SitePrices
from service.planning.shelf import part_stock
from service.planning.told import by_hand, draft_of, told_jobs
from service.said import say

LIMITS = SolveLimits(seed=1, effort=8.0, gap=0.005)
"""Deterministic, never the wall clock: the same plan on a slow machine. The demo's sites take well under a second."""

PLAN_KINDS: dict[str, NeedKind] = {
    models.NeedKind.TIMING_CHECK: NeedKind.TIMING_CHECK,
    models.NeedKind.INSPECTION: NeedKind.INSPECTION,
    models.NeedKind.REPLACEMENT: NeedKind.REPLACEMENT,
    models.NeedKind.SETTLE_IN: NeedKind.SETTLE_IN,
    models.NeedKind.INCIDENT: NeedKind.INCIDENT,
    models.NeedKind.NOTICE: NeedKind.NOTICE,
    models.NeedKind.TURNAROUND: NeedKind.TURNAROUND,
    models.NeedKind.REQUESTED: NeedKind.REQUESTED,
}
# A changed set, or a bow gone through after an incident, makes these pointless.
CANCELS: dict[str, tuple[str, ...]] = {
    models.NeedKind.REPLACEMENT: (
        models.NeedKind.TIMING_CHECK,
        models.NeedKind.INSPECTION,
        models.NeedKind.SETTLE_IN,
    ),
    models.NeedKind.INCIDENT: (models.NeedKind.TIMING_CHECK, models.NeedKind.INSPECTION),
}


@dataclass(frozen=True)
class SitePlan:
    """A site's problem, with what each of its needs stands for, and what the plan's days were priced with."""

    site: Site
    problem: PlanProblem
    needs: Mapping[str, NamedNeed]
    computed: Mapping[str, models.Need]
    ahead: Mapping[int, BowAhead]
    prices: SitePrices
    days: Days
    hand: Mapping[str, list[str]]


def _check_horizon(days: int) -> None:
    if not SHORTEST_HORIZON_DAYS <= days <= LONGEST_HORIZON_DAYS:
        raise ValueError(
            f"a plan of {days} days; allowed are {SHORTEST_HORIZON_DAYS} to {LONGEST_HORIZON_DAYS} days: give another "
            "number, or a later first day"
        )


def site_plan(
    site: Site,
    first_day: date,
    days: int,
    now: datetime,
    facts: Facts | None = None,
    *,
    keep_by_hand: bool = True,
    limits: SolveLimits = LIMITS,
) -> SitePlan:
    """The plan's problem of a site on its saved facts or a what-if's. ValueError for a horizon out of range."""
    _check_horizon(days)
    facts = saved_facts(site) if facts is None else facts
    horizon = tuple(first_day + timedelta(days=i) for i in range(days))
    wanted = open_needs(site, facts, horizon[-1])
    bows = list({need.bow_id: need.bow for need in wanted}.values())
    span, prices = Days(first_day, days), prices_of(site)
    ahead = bows_ahead(site, bows, facts.wears, first_day, span.long, now, facts.use_factor)
    stock = part_stock(site, {code for need in wanted for code in need.parts}, first_day)
    makes = _Makes(facts, ahead, {one.cord_spec: one for one in stock}, prices, span)
    computed = {named(need).id: need for need in wanted}
    after = {name: _after_new_set(need) for name, need in computed.items() if calls_for_settle_in(need)}
    needs = {name: named(need) for name, need in computed.items()} | {one.id: one for one in after.values()}
    closed = closed_days(site, horizon)
    people = technicians(site, horizon, closed)
    hand = by_hand(draft_of(site)) if keep_by_hand else {}
    return SitePlan(
        site,
        PlanProblem(
            site=site.code,
            currency=site.currency,
            days=horizon,
            technicians=people,
            press_visits=press_visits(site, days),
            needs=makes.all(computed, after),
            bookings=promises(site, bows, _held(wanted), horizon, prices.rental_day, now),
            stock=stock,
            published=told_jobs(site, needs, first_day, {one.id for one in people}, hand),
            closed=closed,
            labour_per_hour=prices.labour_hour,
            limits=limits,
        ),
        needs,
        computed,
        ahead,
        prices,
        span,
        {name: one for name, one in hand.items() if name in needs},
    )


def prices_of(site: Site) -> SitePrices:
    """The site's money and the house rules that cost some."""
    return SitePrices(
        rental_day=float(site.rental_value_per_day) or 1.0,
        labour_hour=float(site.labour_rate_per_hour),
        inspection_days=site.inspection_max_days,
        timing_grace_days=site.timing_grace_days,
        guests_shoot_in=site.guests_shoot_in,
    )


def _held(needs: list[models.Need]) -> frozenset[int]:
    return frozenset(need.bow_id for need in needs if need.holds)


def _after_new_set(need: models.Need) -> NamedNeed:
    work = BENCH_WORK[models.NeedKind.SETTLE_IN]
    return NamedNeed(
        bow=need.bow,
        kind=models.NeedKind.SETTLE_IN,
        reason=say("after the new set of %(tag)s: its timing is measured again once it has settled", tag=need.bow.tag),
        due_on=need.due_on,
        minutes=work.minutes(need.bow.spec_sheet.bow_kind),
        after_new_set=True,
    )


class _Makes:
    """Computed needs -> the plan's own, with their costs."""

    def __init__(
        self,
        facts: Facts,
        ahead: Mapping[int, BowAhead],
        stock: Mapping[str, PartStock],
        prices: SitePrices,
        days: Days,
    ) -> None:
        self.first_out, self.ahead, self.stock, self.prices, self.days = facts.first_out(), ahead, stock, prices, days
        self.on_bow: defaultdict[int, list[models.CordWear]] = defaultdict(list)
        self.tables: Coefficients = coefficients()
        for wear in facts.wears:
            self.on_bow[wear.fitting.bow_id].append(wear)

    def all(self, computed: Mapping[str, models.Need], after: Mapping[str, NamedNeed]) -> tuple[Need, ...]:
        """Every computed need, then the re-check after each new set (`after`, by the name of its replacement)."""
        of_bow: defaultdict[int, list[models.Need]] = defaultdict(list)
        for need in computed.values():
            of_bow[need.bow_id].append(need)
        return (
            *(self.need(need, of_bow[need.bow_id]) for need in computed.values()),
            *(self.after_new_set(computed[name], follower) for name, follower in after.items()),
        )

    def need(self, need: models.Need, of_bow: list[models.Need]) -> Need:
        """One computed need of all those of its bow, with those that it makes pointless."""
        drift = self.first_out.get(need.bow_id)
        costs = need_costs.costs_of(
            need, self.ahead[need.bow_id], drift, self.parts(need.bow, of_bow), self.prices, self.days
        )
        pointless = [named(other).id for other in of_bow if other.kind in CANCELS.get(need.kind, ())]
        return Need(
            id=named(need).id,
            name=named(need).called,
            bow=need.bow.tag,
            kind=PLAN_KINDS[need.kind],
            skill=need.skill,
            bench_min=need.minutes,
            setup_min=SET_UP_MINUTES,
            needs_press=need.needs_press,
            earliest=min(need.earliest_on, need.latest_on or need.earliest_on),
            due=need.due_on,
            early_cost=costs.early,
            late_cost=costs.late,
            unplaced_cost=costs.unplaced,
            hard_latest=None if need.holds else need.latest_on,
            parts=tuple(PartUse(code, count) for code, count in sorted(need.parts.items())),
            held=need.holds,
            cancels=tuple(sorted(pointless)),
        )

    def parts(self, bow: Bow, of_bow: list[models.Need]) -> SetParts:
        """The set that the bow would get: by its planned replacement, else as it is fitted now."""
        with_parts = [need for need in of_bow if need.parts]
        if with_parts:
            counts = with_parts[0].parts
            price = sum(self.stock[code].price * count for code, count in counts.items() if code in self.stock)
            lacking = [s for code, n in counts.items() if (s := self.stock.get(code)) is None or s.on_hand < n]
            return SetParts(price, max((s.lead_days for s in lacking if s is not None), default=0))
        specs = [wear.fitting.cord.spec for wear in self.on_bow[bow.pk]]
        return SetParts(sum(float(spec.price) for spec in specs), max((spec.lead_days for spec in specs), default=0))

    def after_new_set(self, leader: models.Need, follower: NamedNeed) -> Need:
        """The settle-in re-check that a planned replacement calls for."""
        work, none = BENCH_WORK[models.NeedKind.SETTLE_IN], (0.0,) * self.days.horizon
        bow = self.ahead[leader.bow_id]
        shots_per_day = max((wear.shots_per_day for wear in bow.wears.values()), default=0.0)
        wait = need_costs.settle_in_wait(bow, self.prices)
        return Need(
            id=follower.id,
            name=follower.called,
            bow=follower.bow.tag,
            kind=NeedKind.SETTLE_IN,
            skill=work.skill,
            bench_min=follower.minutes,
            setup_min=SET_UP_MINUTES,
            needs_press=work.press(follower.bow.spec_sheet.bow_kind),
            earliest=self.days.first,
            due=leader.due_on,
            early_cost=none,
            late_cost=none,
            unplaced_cost=need_costs.LEAST_COST_OF_LEAVING_OUT + wait * need_costs.PUT_OFF_DAYS,
            follows=named(leader).id,
            after_days=need_costs.settle_in_days(shots_per_day, self.settle_in_shots(leader.bow_id), self.prices),
            wait_cost_per_day=wait,
        )

    def settle_in_shots(self, bow_id: int) -> float:
        """How many shots its slowest new cord takes to settle: a new set is of the specs that are fitted now."""
        specs = {wear.fitting.cord.spec_id for wear in self.on_bow[bow_id]}
        tables = [self.tables.of(spec) for spec in specs] or [self.tables.house]
        return max(table["settle_in_shots"].value for table in tables)
