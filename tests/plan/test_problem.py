"""What the plan's input refuses, with the value, the allowed range, the unit and the next step."""

from dataclasses import replace
from datetime import timedelta

import pytest

from service.plan.costs import to_cents
from service.plan.problem import Arrival, Booking, PartStock, PartUse, ProblemError, PublishedJob, SolveLimits
from tests.plan.flat_costs import early_by_day, late_by_day
from tests.plan.shop import day, need, problem, technician


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: problem([need("a", days=5)], days=5), "horizon of 5 days; allowed 7 to 90 days"),
        (lambda: problem([], days=91), "horizon of 91 days; allowed 7 to 90 days"),
        (
            lambda: problem([], technicians=(technician(minutes=1500),)),
            "1500 bench minutes .* allowed 0 to 1440 minutes",
        ),
        (lambda: problem([], technicians=(technician(days=6),)), "6 values for a horizon of 7 days"),
        (lambda: problem([], press_visits=(-1,) * 7), "press visits -1"),
        (lambda: problem([need("a"), need("a")]), "need a is there twice"),
        (lambda: need("a", bench_min=-5), "-5 bench minutes; allowed 0 to 1440 minutes"),
        (
            lambda: need("a", hard_latest=day(0), earliest=day(1)),
            "latest day 2026-03-02 is before its earliest",
        ),
        (lambda: need("a", unplaced_cost=1.0), "putting work off cannot be cheaper"),
        (lambda: need("a", late_cost=(3.0, 2.0, 2.0, 2.0, 2.0, 2.0, 2.0)), "late cost falls"),
        (lambda: need("a", late_cost=(float("nan"),) * 7), "a cost is nan"),
        (lambda: need("a", after_days=(3, 1)), "after_days 3..1"),
        (lambda: problem([need("a", cancels=("b",))]), "cancels b, which must be another need of bow"),
        (lambda: problem([need("a", follows="b")]), "follows b, which must be another need"),
        (lambda: problem([need("a")], published=(PublishedJob("x", day(0), "Wren"),)), "no such need"),
        (
            lambda: problem([need("a")], published=(PublishedJob("a", day(0), "Finch"),)),
            "no technician Finch",
        ),
        (lambda: Booking("G", "B", day(3), day(2), 0.0, away=True), "ends 2026-03-04 before it begins"),
        (lambda: PartUse("K8", 0), "use of 0 cords; at least 1"),
        (lambda: PartStock("K8", -1), "on hand is -1; 0 or more"),
        (lambda: Arrival(day(0), 0), "0 cords; at least 1"),
        (lambda: SolveLimits(gap=1.0), "gap 1.0; a fraction from 0"),
        (lambda: SolveLimits(effort=-1.0), "effort -1.0"),
    ],
)
def test_input_that_cannot_be_planned_with_is_refused(make, words):
    with pytest.raises(ProblemError, match=words):
        make()


def test_days_with_a_hole_are_refused():
    shop = problem([])
    with pytest.raises(ProblemError, match="must be consecutive"):
        replace(shop, days=(*shop.days[:-1], shop.days[-1] + timedelta(days=1)))


def test_cancelling_must_reach_through():
    chain = [need("a", bow="B", cancels=("b",)), need("b", bow="B", cancels=("c",)), need("c", bow="B")]
    with pytest.raises(ProblemError, match="cancels b but not c"):
        problem(chain)


def test_cost_builders():
    assert late_by_day(2, 5.0, 5) == (0.0, 0.0, 0.0, 5.0, 10.0)
    assert late_by_day(-3, 5.0, 3) == (0.0, 5.0, 10.0)
    assert early_by_day(2, 1.5, 4) == (3.0, 1.5, 0.0, 0.0)
    assert to_cents(12.345) in (1234, 1235)
