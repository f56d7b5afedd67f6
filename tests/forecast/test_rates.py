"""Rates: any order gives the same belief, day by day equals all at once, new and idle bows use the group."""

import numpy as np
import pytest

from service.forecast.rates import GroupRate, RateBelief, SessionRows, advance, learn_group, learn_rates

GROUP = GroupRate(mean=0.4, worth_days=10.0)


def some_rows(seed: int = 0) -> SessionRows:
    rng = np.random.default_rng(seed)
    return SessionRows(rng.integers(0, 6, 80), rng.integers(0, 50, 80), rng.integers(1, 4, 80).astype(float))


def test_day_by_day_equals_all_at_once():
    rows, exposure, first = some_rows(), np.random.default_rng(1).random(50), np.zeros(6, dtype=np.int64)
    belief = RateBelief(np.full(6, GROUP.shape), np.full(6, GROUP.worth_days))
    for day in range(50):
        today = rows.day == day
        sessions = np.bincount(rows.bow[today], rows.sessions[today], minlength=6)
        belief = advance(belief, sessions, exposure[day], GROUP, 0.97)
    once = learn_rates(rows, exposure, first, GROUP, 0.97)
    assert belief.shape == pytest.approx(once.shape, abs=1e-9)
    assert belief.inverse_scale == pytest.approx(once.inverse_scale, abs=1e-9)


def test_order_of_arrival_does_not_matter():
    rows, shuffled = some_rows(), np.random.default_rng(2).permutation(80)
    mixed = SessionRows(rows.bow[shuffled], rows.day[shuffled], rows.sessions[shuffled])
    first = np.zeros(6, dtype=np.int64)
    left, right = (learn_rates(r, np.ones(50), first, GROUP, 0.97) for r in (rows, mixed))
    assert left.shape == pytest.approx(right.shape, abs=1e-9)


def test_a_bow_that_came_today_has_its_groups_rate_and_one_that_stood_idle_a_lower_one():
    nothing = SessionRows(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0))
    belief = learn_rates(nothing, np.ones(50), np.array([50, 0]), GROUP, 0.97)
    assert belief.mean[0] == pytest.approx(0.4)
    assert belief.mean[1] < 0.2


def test_group_spread_is_recovered_from_many_bows():
    rng, exposure = np.random.default_rng(3), np.full(4000, 60.0)
    sessions = rng.poisson(rng.gamma(4.0, 0.1, 4000) * exposure).astype(float)
    group = learn_group(sessions, exposure)
    assert group.mean == pytest.approx(0.4, rel=0.03)
    assert group.worth_days == pytest.approx(10.0, rel=0.1)


def test_like_bows_are_worth_the_most_allowed_and_no_bows_fall_back_to_the_house():
    assert learn_group(np.full(50, 20.0), np.full(50, 50.0)).worth_days == 60.0
    house = GroupRate(0.7, 5.0)
    assert learn_group(np.zeros(3), np.zeros(3), house) == house
    assert learn_group(np.array([10.0]), np.array([20.0]), house).worth_days == 5.0


@pytest.mark.parametrize("discount", [0.0, 1.1, np.nan])
def test_an_impossible_discount_is_refused(discount):
    with pytest.raises(ValueError, match="discount omega is"):
        learn_rates(some_rows(), np.ones(50), np.zeros(6, dtype=np.int64), GROUP, discount)


def test_sessions_outside_the_history_and_negative_counts_are_refused():
    with pytest.raises(ValueError, match=r"the history has days 0\.\.9"):
        learn_rates(some_rows(), np.ones(10), np.zeros(6, dtype=np.int64), GROUP)
    with pytest.raises(ValueError, match="must be 0 or more"):
        SessionRows(np.array([0]), np.array([0]), np.array([-1.0]))
    with pytest.raises(ValueError, match="both must be above 0"):
        GroupRate(0.0, 3.0)
