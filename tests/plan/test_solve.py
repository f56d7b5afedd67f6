"""The solved plan at its edges: no time, no people, too much that must be done, published days in the way."""

import os
import subprocess
import sys

import numpy as np
import pytest

from service.plan.linear import LinearProgram
from service.plan.outcome import Limit
from service.plan.problem import PublishedJob, SolveLimits
from service.plan.report import Status
from service.plan.search import Search, search
from service.plan.solve import solve
from tests.plan.oracle import breaches, where_of
from tests.plan.shop import day, need, problem, technician

NO_EFFORT = SolveLimits(effort=0.0)


def crowd(count: int = 12):
    return [need(f"n{i:02}", due=i % 3, late=3.0 + i % 5) for i in range(count)]


def knapsacks():
    """Jobs that do not divide the day's minutes, so that the linear bound stays below every plan."""
    return [need(f"n{i:02}", due=i % 4, late=3.0 + i % 5, bench_min=31 + 7 * (i % 4)) for i in range(20)]


def test_out_of_time_gives_the_first_plan_with_an_honest_gap():
    shop = problem(crowd(), technicians=(technician(minutes=90),), limits=NO_EFFORT)
    report = solve(shop)
    assert report.objective == report.first_plan_objective
    assert report.status is Status.BEST_FOUND
    assert report.gap > 0
    assert report.bound < report.objective
    assert report.sentence.startswith("Best found, gap ")
    assert "optimal" not in report.sentence.lower()


def test_a_search_that_finds_nothing_falls_back_on_a_plan(monkeypatch):
    unknown = Search(chosen=None, bound=None, proven=False, impossible=False, effort=1.0)
    monkeypatch.setattr("service.plan.best.search", lambda *_: unknown)
    report = solve(shop := problem(knapsacks(), limits=SolveLimits(effort=5.0, gap=0.0)))
    assert report.status is Status.BEST_FOUND
    assert breaches(shop, where_of(shop, report.plan.placements)) == []
    assert report.objective <= report.first_plan_objective


def test_unknown_is_not_infeasible():
    program = LinearProgram()
    choice = program.choice(1)
    program.require([(choice, 1)], low=2)
    everything, nothing = np.ones(1, dtype=np.bool_), np.zeros(1, dtype=np.bool_)
    no_plan_exists = search(program.cost, program.rows(), nothing, everything, 1.0, 0.0, 1)
    assert no_plan_exists.impossible
    assert no_plan_exists.chosen is None
    hard = LinearProgram()
    items = [hard.choice(-(17 * i % 23)) for i in range(60)]
    hard.require([(c, 2 + 13 * i % 19) for i, c in enumerate(items)], low=300, high=300)
    free = np.ones(60, dtype=np.bool_)
    out_of_time = search(hard.cost, hard.rows(), np.zeros(60, dtype=np.bool_), free, 0.0, 0.0, 1)
    assert not out_of_time.impossible
    assert out_of_time.chosen is None


def test_the_same_plan_in_another_process_with_other_hashes():
    script = (
        "from tests.plan.test_solve import crowd, problem, technician, solve;"
        "print(solve(problem(crowd(20), technicians=(technician(minutes=100), technician('Lark', minutes=60)))))"
    )
    outputs = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(outputs) == 1


def test_the_solver_never_does_worse_than_the_first_plan():
    report = solve(problem(crowd()))
    assert report.objective <= report.first_plan_objective


def test_only_a_bound_that_meets_the_cost_is_called_proven():
    report = solve(problem(crowd(), limits=SolveLimits(gap=0.0)))
    assert report.status is Status.PROVEN
    assert report.gap == 0.0
    assert report.sentence.startswith("Proven best")


def test_a_gap_within_what_was_asked_is_still_best_found():
    shop = problem(crowd(), technicians=(technician(minutes=90),), limits=SolveLimits(gap=0.9))
    assert solve(shop).status is Status.BEST_FOUND


def test_two_held_bows_and_room_for_one_say_that_one_cannot_be_placed():
    one_hour = technician(minutes=[60] + [0] * 6)
    report = solve(problem([need("a", held=True), need("b", held=True), need("c")], technicians=(one_hour,)))
    assert report.held_left_out == 1
    assert report.precedence_proven
    assert len(report.plan.placements) == 1
    assert report.plan.placements[0].need in ("a", "b")
    assert {u.need for u in report.plan.unplaced} >= {"c"}


def test_a_held_bow_no_plan_can_place_is_listed_with_its_limit_and_spoils_nothing():
    report = solve(problem([need("a", held=True, skill="laser"), need("b")]))
    assert [(u.need, u.limit) for u in report.plan.unplaced] == [("a", Limit.SKILL)]
    assert report.status is Status.PROVEN


def test_a_held_bow_moves_as_few_published_jobs_as_it_can_and_each_says_why():
    two_slots = technician(minutes=[120] + [0] * 5 + [60])
    jobs = (PublishedJob("a", day(0), "Wren"), PublishedJob("b", day(0), "Wren"))
    needs = [need("a", due=0), need("b", due=0), need("incident", due=0, held=True, hard_latest=day(2))]
    report = solve(problem(needs, technicians=(two_slots,), published=jobs))
    assert report.days_moved == 1
    assert report.plan.placement_of("incident").day == day(0)
    (moved,) = report.plan.moved
    assert moved.day == day(6)
    assert "beside" in moved.sentence
    assert "incident" in moved.sentence


def test_an_absent_technician_hands_the_day_to_a_colleague():
    away = technician("Wren", minutes=[120, 0, 120, 120, 120, 120, 120])
    shop = problem(
        [need("a", due=3)],
        technicians=(away, technician("Lark")),
        published=(PublishedJob("a", day(1), "Wren"),),
    )
    placed = solve(shop).plan.placement_of("a")
    assert (placed.day, placed.technician) == (day(1), "Lark")


def test_a_published_day_stays_though_another_would_be_cheaper():
    shop = problem([need("a", due=3)], published=(PublishedJob("a", day(5), "Wren"),))
    report = solve(shop)
    assert report.plan.placement_of("a").day == day(5)
    assert report.status is Status.PROVEN


def test_a_published_job_outside_the_plan_says_so():
    jobs = (PublishedJob("a", day(-1), "Wren"), PublishedJob("b", day(40), "Wren"))
    moved = {m.need: m.sentence for m in solve(problem([need("a"), need("b")], published=jobs)).plan.moved}
    assert "is past and it was not done" in moved["a"]
    assert "after the horizon" in moved["b"]


@pytest.mark.parametrize(
    ("changes", "limit"),
    [
        ({"technicians": ()}, Limit.SKILL),
        ({"technicians": (technician(minutes=0),)}, Limit.ABSENT),
        ({"press_visits": (0,) * 7}, Limit.PRESS),
        ({"closed": frozenset(day(n) for n in range(7))}, Limit.CLOSED),
    ],
)
def test_a_shop_that_can_do_nothing_gives_a_plan_of_reasons(changes, limit):
    report = solve(problem([need("a", needs_press=True)], **changes))
    assert report.plan.placements == ()
    assert [u.limit for u in report.plan.unplaced] == [limit]
    assert report.status is Status.PROVEN


def test_zero_needs():
    report = solve(problem([]))
    assert (report.objective, report.bound, report.gap, report.status) == (0.0, 0.0, 0.0, Status.PROVEN)


def test_a_need_due_yesterday_goes_to_the_first_day_that_can_do_it():
    late = need("a", due=-1, earliest=day(-9), hard_latest=day(-1))
    report = solve(problem([late], technicians=(technician(minutes=[0, 0, 120, 0, 0, 0, 120]),)))
    assert report.plan.placement_of("a").day == day(2)


def test_the_same_problem_gives_the_same_report():
    shop = problem(crowd(20), technicians=(technician(minutes=100), technician("Lark", minutes=60)))
    assert solve(shop) == solve(shop)


def test_a_cancelled_check_frees_its_minutes():
    needs = [
        need("replace", due=2, bow="bow 7", cancels=("check",)),
        need("check", due=2, bow="bow 7"),
        need("other", due=2, late=1.0),
    ]
    shop = problem(needs, technicians=(technician(minutes=[0, 0, 120, 0, 0, 0, 0]),))
    report = solve(shop)
    where = where_of(shop, report.plan.placements)
    assert set(where) == {"replace", "other"}
    assert breaches(shop, where) == []
    assert [(c.need, c.by) for c in report.plan.cancelled] == [("check", "replace")]
