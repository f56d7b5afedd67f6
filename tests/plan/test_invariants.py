"""Whatever the shop: no limit is broken, every need has one fate with a reason, costs add up, order is nothing."""

from collections import Counter
from dataclasses import replace
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from service.plan.greedy import first_plan
from service.plan.outcome import Plan
from service.plan.problem import PlanProblem, SolveLimits
from service.plan.solve import solve
from tests.plan.oracle import breaches, cents, price, where_of
from tests.plan.random_shops import random_shop

shops = st.randoms(use_true_random=False).map(lambda rng: random_shop(rng, 14, SolveLimits(effort=0.5, gap=0.0)))


def require_one_fate_each(shop: PlanProblem, plan: Plan) -> None:
    fates = [p.need for p in plan.placements] + [c.need for c in plan.cancelled] + [u.need for u in plan.unplaced]
    assert Counter(fates) == Counter(need.id for need in shop.needs)
    assert all(u.sentence for u in plan.unplaced)
    where = where_of(shop, plan.placements)
    stayed = {
        job.need for job in shop.published if where.get(job.need) == ((job.day - shop.days[0]).days, job.technician)
    }
    assert {m.need for m in plan.moved} == {job.need for job in shop.published} - stayed
    assert all(m.sentence for m in plan.moved)


@settings(max_examples=60, deadline=None)
@given(shops)
def test_the_first_plan_keeps_every_limit(shop: PlanProblem) -> None:
    plan = first_plan(shop)
    assert breaches(shop, where_of(shop, plan.placements)) == []
    require_one_fate_each(shop, plan)


@settings(max_examples=60, deadline=None)
@given(shops)
def test_the_solved_plan_keeps_every_limit_and_its_costs_add_up(shop: PlanProblem) -> None:
    report = solve(shop)
    where = where_of(shop, report.plan.placements)
    assert breaches(shop, where) == []
    require_one_fate_each(shop, report.plan)
    assert cents(report.objective) == price(shop, where)
    assert abs(sum(report.costs.values()) - report.objective) < 0.005
    assert report.bound <= report.objective


@settings(max_examples=20, deadline=None)
@given(shops, st.randoms(use_true_random=False))
def test_the_order_of_the_input_changes_nothing(shop: PlanProblem, rng: Random) -> None:
    shuffled = replace(
        shop,
        needs=tuple(rng.sample(shop.needs, len(shop.needs))),
        technicians=shop.technicians[::-1],
        bookings=shop.bookings[::-1],
    )
    assert solve(shuffled) == solve(shop)
