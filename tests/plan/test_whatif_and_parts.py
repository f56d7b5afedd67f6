"""What-if runs beside the plan; cords used, left and to be ordered; load by day."""

from dataclasses import replace

import pytest

from service.plan.greedy import first_plan
from service.plan.load import load_of
from service.plan.parts import orders_to_place, stock_run
from service.plan.problem import Arrival, PartStock, PartUse, ProblemError
from service.plan.solve import solve
from service.plan.whatif import delivery_late, technician_away, what_if, with_needs
from tests.plan.flat_costs import late_by_day
from tests.plan.shop import day, need, problem, technician


def cords(name: str, due: int, count: int = 1, **changes: object):
    return need(name, due=due, parts=(PartUse("K8", count),), **changes)


def test_a_technician_away_moves_the_work_and_costs_what_the_delay_costs():
    shop = problem([need("a", due=1, late=5)])
    now = solve(shop)
    then = what_if("Wren away", shop, now, technician_away(shop, "Wren", day(0), day(2)))
    assert then.other_day == ("a",)
    assert then.extra == pytest.approx(10.0)
    assert "costs 10.00 USD" in then.sentence
    assert now == solve(shop)


def test_a_late_delivery_puts_the_set_later():
    shop = problem([cords("a", 2)], stock=(PartStock("K8", 0, (Arrival(day(2), 1),)),))
    then = what_if("late", shop, solve(shop), delivery_late(shop, "K8", 3))
    assert then.other_day == ("a",)
    placed = then.then.plan.placement_of("a")
    assert placed is not None
    assert placed.day == day(5)


def test_busier_guests_bring_other_needs_and_costs():
    shop = problem([need("a", due=6)])
    busier = with_needs(shop, [replace(shop.needs[0], due=day(2), late_cost=late_by_day(2, 5, 7)), need("new", due=3)])
    then = what_if("use +30 %", shop, solve(shop), busier)
    assert then.new_needs == ("new",)
    assert then.gone_needs == ()


def test_unknown_names_in_a_what_if_are_refused():
    shop = problem([need("a")])
    with pytest.raises(ProblemError, match="technician Finch"):
        technician_away(shop, "Finch", day(0), day(1))
    with pytest.raises(ProblemError, match="cord spec K99"):
        delivery_late(shop, "K99", 2)


def test_stock_runs_down_and_never_below_nothing():
    stock = PartStock("K8", 1, (Arrival(day(3), 2),))
    shop = problem([cords(f"n{i}", 0) for i in range(5)], stock=(stock,))
    run = stock_run(shop, solve(shop).plan)["K8"]
    assert [d.on_hand for d in run][-1] == 0
    assert all(d.on_hand >= 0 for d in run)
    assert sum(d.used for d in run) == 3


def test_the_order_is_due_lead_days_before_the_first_set_without_cords():
    stock = PartStock("K8", 1, lead_days=2, price=31.5)
    shop = problem([cords("a", 1), cords("b", 4), cords("c", 5, count=2)], stock=(stock,))
    lines = orders_to_place(shop, first_plan(shop))
    assert [(x.count, x.needed_by, x.order_by, x.late, x.for_needs, x.cost) for x in lines] == [
        (1, day(4), day(2), False, ("b",), 31.5),
        (2, day(5), day(3), False, ("c",), 63.0),
    ]


def test_an_order_that_should_have_gone_out_says_when_it_would_come():
    shop = problem([cords("a", 1)], stock=(PartStock("K8", 0, lead_days=10),))
    line = orders_to_place(shop, first_plan(shop))[0]
    assert line.late
    assert line.earliest_arrival == day(10)
    assert "2026-03-12" in line.sentence


def test_a_delivery_on_the_way_is_not_ordered_again():
    stock = PartStock("K8", 0, (Arrival(day(3), 1),), lead_days=1)
    shop = problem([cords("a", 3)], stock=(stock,))
    assert orders_to_place(shop, first_plan(shop)) == ()


def test_a_plan_that_ends_below_the_reorder_point_refills_to_it():
    shop = problem([cords("a", 2)], stock=(PartStock("K8", 2, lead_days=1, reorder_point=3),))
    line = orders_to_place(shop, first_plan(shop))[0]
    assert (line.count, line.for_needs, line.needed_by) == (2, (), day(2))
    assert "reorder point of 3" in line.sentence


def test_load_counts_shared_set_up_once():
    pair = [need(n, due=3, bow="bow 7", bench_min=30, setup_min=20, needs_press=True) for n in ("a", "b")]
    shop = problem(pair, technicians=(technician(minutes=120),), closed=frozenset({day(6)}))
    loads = load_of(shop, first_plan(shop))
    assert loads[3].minutes_used == {"Wren": 80}
    assert (loads[3].press_used, loads[3].press_there) == (1, 4)
    assert loads[6].minutes_there == {"Wren": 0}
