"""Why a need is on its day, and what moving it would cost: checked against the second opinion's prices."""

import pytest

from service.plan.explain import explain
from service.plan.greedy import first_plan
from service.plan.move import cost_of_move
from service.plan.outcome import Limit
from service.plan.problem import PartStock, PartUse, PublishedJob, SolveLimits
from service.plan.solve import solve
from tests.plan.oracle import breaches, cents, price, where_of
from tests.plan.shop import day, need, problem, technician


def test_a_free_need_is_on_its_due_day_and_the_neighbours_cost_their_slopes():
    shop = problem([need("a", due=3, early=1.5, late=5)])
    why = explain(shop, first_plan(shop))[0]
    assert why.day == day(3)
    assert [(n.day, n.extra) for n in why.earlier] == [(day(2), 1.5)]
    assert [(n.day, n.extra) for n in why.later] == [(day(4), 5.0)]
    assert "Wed 4 Mar 2026 would cost 1.50 USD more" in why.sentence
    assert "Fri 6 Mar 2026 would cost 5.00 USD more" in why.sentence


def test_a_full_neighbour_day_is_named_and_the_next_open_one_priced():
    shop = problem(
        [need("a", due=3), need("full", due=2, bench_min=60, late=50)], technicians=(technician(minutes=60),)
    )
    why = next(w for w in explain(shop, first_plan(shop)) if w.need == "a")
    assert [(n.day, n.limit, n.extra) for n in why.earlier] == [
        (day(2), Limit.MINUTES, None),
        (day(1), None, 2.0),
    ]


def test_shared_set_up_is_part_of_what_a_neighbour_costs():
    pair = [need(n, due=3, bow="bow 7", bench_min=20, setup_min=30, early=0.0, late=0.0) for n in ("a", "b")]
    shop = problem(pair)
    plan = solve(shop).plan
    for why in explain(shop, plan):
        assert (*why.earlier, *why.later)[0].extra == pytest.approx(15.0)  # 30 minutes at 30.00 an hour


def test_no_single_move_is_cheaper_than_a_proven_plan():
    shop = problem([need(f"n{i}", due=i % 3, late=1.0 + i) for i in range(9)])
    report = solve(shop)
    assert report.gap <= shop.limits.gap
    exact = solve(problem([*shop.needs], limits=SolveLimits(effort=30, gap=0.0)))
    extras = [n.extra for why in explain(shop, exact.plan) for n in (*why.earlier, *why.later) if n.limit is None]
    assert min(extra for extra in extras if extra is not None) >= 0.0


def test_a_move_costs_what_the_plans_differ_by():
    shop = problem([need("a", due=3), need("b", due=3)])
    plan = first_plan(shop)
    move = cost_of_move(shop, plan, "a", day(5))
    assert move.allowed
    assert move.plan is not None
    before, after = where_of(shop, plan.placements), where_of(shop, move.plan.placements)
    assert breaches(shop, after) == []
    assert cents(move.extra or 0.0) == price(shop, after) - price(shop, before) == 1000
    assert "costs 10.00 USD more" in move.sentence


def test_a_leader_takes_its_follower_along():
    shop = problem(
        [
            need("replace", due=1, bow="bow 7"),
            need("settle", due=2, bow="bow 7", follows="replace", after_days=(1, 2)),
        ]
    )
    move = cost_of_move(shop, first_plan(shop), "replace", day(4))
    assert move.allowed
    assert move.along == ("settle",)
    assert move.plan is not None
    assert breaches(shop, where_of(shop, move.plan.placements)) == []
    placed = move.plan.placement_of("settle")
    assert placed is not None
    assert placed.day in (day(5), day(6))


@pytest.mark.parametrize(
    ("to_day", "limit", "words"),
    [
        (day(0), Limit.WINDOW, "may not be done before Tue 3 Mar 2026"),
        (day(6), Limit.WINDOW, "latest day is Sat 7 Mar 2026"),
        (day(-3), Limit.WINDOW, "outside the plan"),
        (day(2), Limit.PART, "cord spec K8"),
        (day(5), Limit.CLOSED, "closed"),
    ],
)
def test_a_forbidden_move_says_which_rule_forbids_it(to_day, limit, words):
    shop = problem(
        [
            need("a", due=4, earliest=day(1), hard_latest=day(5), parts=(PartUse("K8", 1),)),
            need("b", due=3, held=True, parts=(PartUse("K8", 1),), early=99.0),
        ],
        stock=(PartStock("K8", 1),),
        closed=frozenset({day(5)}),
    )
    move = cost_of_move(shop, first_plan(shop), "a", to_day)
    assert not move.allowed
    assert limit in move.limits
    assert words in move.sentence
    assert move.plan is None


def test_a_move_onto_a_full_day_says_how_many_minutes_are_left():
    shop = problem([need("a", due=3), need("b", due=4, bench_min=100)])
    move = cost_of_move(shop, first_plan(shop), "a", day(4), "Wren")
    assert move.limits == (Limit.MINUTES,)
    assert "needs 60, 20 left" in move.sentence


def test_an_unplaced_need_can_be_moved_in():
    shop = problem([need("a", due=20, unplaced_cost=0.0)])
    move = cost_of_move(shop, first_plan(shop), "a", day(6))
    assert move.allowed
    assert move.extra == pytest.approx(14.0)


def test_unknown_names_are_refused():
    shop = problem([need("a")])
    with pytest.raises(ValueError, match="need x is not in this plan"):
        cost_of_move(shop, first_plan(shop), "x", day(1))
    with pytest.raises(ValueError, match="technician Finch is not at this site"):
        cost_of_move(shop, first_plan(shop), "a", day(1), "Finch")


def test_a_published_day_is_said_to_be_published():
    shop = problem([need("a", due=3)], published=(PublishedJob("a", day(1), "Wren"),))
    assert "is published" in explain(shop, first_plan(shop))[0].sentence
