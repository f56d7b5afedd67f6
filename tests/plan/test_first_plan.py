"""The due-date-first plan: what it places, in which order, and what it says of what it cannot place."""

from service.plan.greedy import first_plan
from service.plan.outcome import Limit, Plan
from service.plan.problem import Arrival, Booking, PartStock, PartUse, PublishedJob
from tests.plan.shop import day, need, problem, technician


def unplaced(plan: Plan, name: str) -> tuple[Limit, str]:
    found = next(u for u in plan.unplaced if u.need == name)
    return found.limit, found.sentence


def placed_day(plan: Plan, name: str) -> object:
    found = plan.placement_of(name)
    return None if found is None else found.day


def test_the_need_due_first_gets_the_day_that_both_want():
    plan = first_plan(problem([need("later", due=4), need("sooner", due=3)], technicians=(technician(minutes=60),)))
    assert placed_day(plan, "sooner") == day(3)
    assert placed_day(plan, "later") == day(4)


def test_a_full_due_day_sends_the_need_to_the_cheaper_side():
    one_a_day = (technician(minutes=60),)
    plan = first_plan(problem([need("a", due=3), need("b", due=3, early=1, late=5)], technicians=one_a_day))
    assert {placed_day(plan, "a"), placed_day(plan, "b")} == {day(3), day(2)}


def test_input_order_does_not_change_the_plan():
    needs = [need(f"n{i}", due=i % 4) for i in range(12)]
    assert first_plan(problem(needs)) == first_plan(problem(needs[::-1]))


def test_a_need_due_yesterday_goes_to_the_first_day():
    plan = first_plan(problem([need("overdue", due=-1, earliest=day(-9), hard_latest=day(-1))]))
    assert placed_day(plan, "overdue") == day(0)


def test_a_held_bow_comes_before_everything_due_earlier():
    plan = first_plan(
        problem(
            [need("due", due=0), need("held", due=6, held=True)],
            technicians=(technician(minutes=[60] + [0] * 6),),
        )
    )
    assert placed_day(plan, "held") == day(0)
    assert unplaced(plan, "due")[0] is Limit.ABSENT


def test_a_bow_that_is_out_waits_for_its_return():
    out = Booking("G-1", "bow of a", day(2), day(4), 0.0, away=True)
    plan = first_plan(problem([need("a", due=3, early=9, late=1)], bookings=(out,)))
    assert placed_day(plan, "a") == day(5)


def test_a_booking_is_broken_only_when_that_is_cheaper():
    booked = Booking("G-1", "bow of a", day(0), day(6), 4.0, away=False)
    plan = first_plan(problem([need("a", due=3)], bookings=(booked,)))
    assert placed_day(plan, "a") == day(3)


def test_parts_that_come_on_thursday_make_a_thursday_job():
    stock = PartStock("K8", 1, (Arrival(day(3), 1),))
    needs = [need(name, due=0, parts=(PartUse("K8", 1),)) for name in ("a", "b", "c")]
    plan = first_plan(problem(needs, stock=(stock,)))
    assert [placed_day(plan, n) for n in "abc"] == [day(0), day(3), None]
    limit, sentence = unplaced(plan, "c")
    assert limit is Limit.PART
    assert "K8" in sentence


def test_shared_set_up_lets_two_needs_of_one_bow_into_one_day():
    pair = [need(n, due=3, bow="bow 7", bench_min=40, setup_min=40) for n in ("a", "b")]
    plan = first_plan(problem(pair, technicians=(technician(minutes=120),)))
    assert [placed_day(plan, n) for n in "ab"] == [day(3), day(3)]


def test_a_placed_replacement_cancels_the_later_check_and_adds_its_settle_in_check():
    needs = [
        need("replace", due=2, bow="bow 7", cancels=("check",)),
        need("check", due=4, bow="bow 7"),
        need("settle", due=3, bow="bow 7", follows="replace", after_days=(1, 2)),
    ]
    plan = first_plan(problem(needs))
    assert placed_day(plan, "replace") == day(2)
    assert [(c.need, c.by, c.day) for c in plan.cancelled] == [("check", "replace", day(2))]
    assert placed_day(plan, "settle") in (day(3), day(4))


def test_published_jobs_stay_though_another_day_would_be_cheaper():
    plan = first_plan(problem([need("a", due=3)], published=(PublishedJob("a", day(1), "Wren"),)))
    assert placed_day(plan, "a") == day(1)
    assert plan.moved == ()


def test_a_published_job_moves_when_the_technician_is_away_and_says_so():
    away_tuesday = technician(minutes=[120, 0, 120, 120, 120, 120, 120])
    jobs = (PublishedJob("a", day(1), "Wren"),)
    plan = first_plan(problem([need("a", due=3)], technicians=(away_tuesday,), published=jobs))
    assert placed_day(plan, "a") == day(3)
    assert plan.moved[0].published_day == day(1)
    assert "not at the bench" in plan.moved[0].sentence


def test_no_technicians_no_presses_no_skill_each_has_its_own_reason():
    assert unplaced(first_plan(problem([need("a")], technicians=())), "a")[0] is Limit.SKILL
    assert unplaced(first_plan(problem([need("a", needs_press=True)], press_visits=(0,) * 7)), "a")[0] is Limit.PRESS
    assert unplaced(first_plan(problem([need("a", skill="fletching")])), "a")[0] is Limit.SKILL
    assert (
        unplaced(first_plan(problem([need("a")], closed=frozenset(day(n) for n in range(7)))), "a")[0] is Limit.CLOSED
    )


def test_a_job_longer_than_any_day_says_how_long_the_days_are():
    limit, sentence = unplaced(first_plan(problem([need("a", bench_min=300)])), "a")
    assert limit is Limit.MINUTES
    assert "300 minutes" in sentence
    assert "120" in sentence


def test_a_blocked_safety_need_names_the_hold_and_the_first_open_day():
    busy = technician(minutes=[0, 0, 0, 120, 120, 120, 120])
    limit, sentence = unplaced(first_plan(problem([need("a", due=1, hard_latest=day(2))], technicians=(busy,))), "a")
    assert limit is Limit.ABSENT
    assert "held after Wed 4 Mar 2026" in sentence
    assert "Thu 5 Mar 2026" in sentence


def test_work_that_is_cheaper_later_is_left_and_says_by_how_much():
    limit, sentence = unplaced(first_plan(problem([need("a", due=20, unplaced_cost=0.0)])), "a")
    assert limit is Limit.CHEAPER
    assert "14.00 USD" in sentence


def test_zero_needs_make_an_empty_plan():
    plan = first_plan(problem([]))
    assert (plan.placements, plan.cancelled, plan.unplaced, plan.moved) == ((), (), (), ())
