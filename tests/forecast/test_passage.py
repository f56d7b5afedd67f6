"""First passage: the fleet's fast path against simulation, tolerance days in closed form, edges."""

import numpy as np
import pytest
from scipy import stats

from service.forecast.ahead import UseAhead
from service.forecast.passage import (
    LifeAhead,
    drift_passage_cdf,
    reached_now,
    replacement_days,
    tolerance_days,
)
from service.forecast.rates import GroupRate, RateBelief
from service.forecast.shots import SessionShots
from service.forecast.simulation import simulate_replacement

GROUP = GroupRate(mean=0.4, worth_days=10.0)


def fleet(bows: int, days: int, seed: int = 0, log_sd: tuple[float, float] = (0.15, 0.1)):
    """Bows of every history, one cord each, at any life used; rated 5,000 shots and 15 months."""
    rng = np.random.default_rng(seed)
    watched = rng.uniform(0.0, 60.0, bows)
    sessions = rng.poisson(rng.gamma(GROUP.shape, 1.0 / GROUP.worth_days, bows) * watched)
    shots = SessionShots(rng.uniform(25.0, 70.0, bows), rng.uniform(0.03, 0.25, bows), 0.6)
    exposure = np.tile([0.6, 0.7, 0.7, 0.8, 1.0, 1.8, 1.4], days // 7 + 1)[:days]
    use = UseAhead(RateBelief(GROUP.shape + sessions, GROUP.worth_days + watched), GROUP, shots, exposure)
    used = rng.uniform(0.0, 0.95, bows)
    by_time = np.tile(np.cumsum(np.full(days, 1.0 / 456.0)), (bows, 1))
    life = LifeAhead(
        np.arange(bows),
        0.7 * used,
        0.3 * used,
        np.full(bows, 1.0 / 5000.0),
        by_time,
        *np.tile(log_sd, (bows, 1)).T,
        np.ones(bows),
    )
    return life, use


def test_fast_path_agrees_with_simulation():
    """Stated error of the fast path: within 2 days or 4 % of the simulated 10/50/90 % day, on average under 2 days."""
    life, use = fleet(20, 400)
    fast = replacement_days(life, use)
    by_moments = np.array([fast.p10, fast.p50, fast.p90]).T
    drawn = np.array([simulate_replacement(life, cord, use, paths=5000).p10_p50_p90 for cord in range(20)])
    both = np.isfinite(by_moments) & np.isfinite(drawn)
    assert np.array_equal(np.isfinite(by_moments), np.isfinite(drawn))
    error = np.where(both, by_moments - np.where(both, drawn, 0.0), 0.0)
    assert np.all(np.abs(error[both]) <= np.maximum(2.0, 0.04 * drawn[both]))
    assert np.all(np.abs(np.mean(error, axis=0)) < 2.0)


def test_a_chance_of_being_past_already_is_the_log_normal_tail():
    life, _ = fleet(2, 30)
    ends = LifeAhead(
        life.bow,
        np.array([0.9, 0.0]),
        np.array([0.0, 0.9]),
        life.per_shot,
        life.time_ahead,
        np.full(2, 0.15),
        np.full(2, 0.1),
        np.ones(2),
    )
    expected = [stats.norm.sf(np.log(1.0 / 0.9) / 0.15), stats.norm.sf(np.log(1.0 / 0.9) / 0.1)]
    assert reached_now(ends) == pytest.approx(expected, rel=1e-9)


def test_an_idle_bow_wears_by_time_alone_on_the_days_of_the_log_normal():
    life, use = fleet(1, 900, log_sd=(0.15, 0.1))
    closed = UseAhead(use.belief, GROUP, use.shots, np.zeros(900))
    new = LifeAhead(
        life.bow,
        np.zeros(1),
        np.zeros(1),
        life.per_shot,
        life.time_ahead,
        np.array([0.15]),
        np.array([0.1]),
        np.ones(1),
    )
    days = replacement_days(new, closed)
    spread = np.exp(0.1 * stats.norm.ppf(0.9))
    expected = [np.ceil(456.0 / spread), 456.0, np.ceil(456.0 * spread)]
    # A day may be lost to rounding where the chance is exactly a half.
    assert [days.p10[0], days.p50[0], days.p90[0]] == pytest.approx(expected, abs=1.0)


def test_a_big_fleet_gives_the_same_as_each_bow_alone():
    life, use = fleet(2500, 200, seed=1)
    together = replacement_days(life, use)
    for cord in (0, 999, 1000, 1001, 2499):
        alone = replacement_days(life.some(np.array([cord])), use)
        assert (alone.p10[0], alone.p90[0]) == (together.p10[cord], together.p90[cord])


def test_cords_may_come_in_any_order_and_share_a_bow():
    life, use = fleet(6, 300)
    twice = np.array([4, 4, 0, 5])
    days = replacement_days(life.some(twice), use)
    assert days.p50.tolist() == replacement_days(life, use).p50[twice].tolist()


def test_percentiles_come_in_order():
    life, use = fleet(400, 365, seed=3)
    days = replacement_days(life, use)
    assert np.all(days.p10 <= days.p50) and np.all(days.p50 <= days.p90)


def test_with_nothing_uncertain_and_no_use_the_date_is_the_straight_line():
    life, use = fleet(1, 400, log_sd=(0.0, 0.0))
    closed = UseAhead(use.belief, GROUP, use.shots, np.zeros(400))
    left = 1.0 - float(life.from_shots[0] + life.from_time[0])
    days = replacement_days(life, closed)
    expected = np.ceil(left * 456.0) if np.ceil(left * 456.0) <= 400 else np.inf
    assert (days.p10[0], days.p50[0], days.p90[0]) == (expected, expected, expected)


def test_past_its_point_it_is_due_now_and_far_from_it_not_within_the_horizon():
    life, use = fleet(2, 30, log_sd=(0.0, 0.0))
    ends = LifeAhead(
        life.bow, np.array([1.2, 0.0]), np.zeros(2), life.per_shot, life.time_ahead, *np.zeros((2, 2)), np.ones(2)
    )
    days = replacement_days(ends, use)
    assert (days.p10[0], days.p90[0]) == (0.0, 0.0)
    assert np.isinf(days.p10[1])


def test_uncertain_coefficients_widen_the_dates():
    spans = []
    for log_sd in ((0.0, 0.0), (0.25, 0.2)):
        days = replacement_days(*fleet(200, 700, seed=4, log_sd=log_sd))
        spans.append(days.p90 - days.p10)
    finite = np.isfinite(spans[0]) & np.isfinite(spans[1])
    assert np.mean(spans[1][finite]) > 1.2 * np.mean(spans[0][finite])


def test_same_seed_same_simulation():
    life, use = fleet(2, 90)
    first, again, other = (simulate_replacement(life, 1, use, seed, 500).days for seed in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_a_steady_creep_leaves_its_tolerance_on_the_day_worked_by_hand():
    creeping = np.tile(np.arange(101.0) * 1e-5, (2, 1))
    fixed = np.array([[0.0] * 101, [2e-4] * 101])
    days = tolerance_days(fixed, creeping, np.array([0.3, 0.3]), np.array([5e-4, 5e-4]))
    assert days.p50.tolist() == [50.0, 30.0]
    # The early day is that of a creep rate exceeded one time in ten: 0.3 x 1.2816 in the log.
    assert days.p10.tolist() == [
        np.ceil(50.0 / np.exp(0.3 * 1.281552)),
        np.ceil(30.0 / np.exp(0.3 * 1.281552)),
    ]
    assert days.p90.tolist() == [
        np.ceil(50.0 * np.exp(0.3 * 1.281552)),
        np.ceil(30.0 * np.exp(0.3 * 1.281552)),
    ]


def test_already_outside_is_day_zero_and_no_creep_is_never():
    flat = np.zeros((2, 11))
    days = tolerance_days(np.array([[6e-4] * 11, [1e-4] * 11]), flat, np.array([0.3, 0.3]), np.array([5e-4, 5e-4]))
    assert days.p90[0] == 0.0
    assert np.isinf(days.p10[1])


def test_closed_form_agrees_with_simulated_brownian_motion():
    rng, step = np.random.default_rng(5), 0.05
    steps = 0.01 * step + 0.05 * np.sqrt(step) * rng.standard_normal((4000, 2400))
    reached = np.mean(np.max(np.cumsum(steps, axis=1), axis=1) >= 1.0)
    # Watching only at steps misses excursions: the barrier acts 0.5826 sigma sqrt(step) higher (Siegmund 1985).
    expected = float(drift_passage_cdf(120.0, 0.01, 0.05, 1.0 + 0.5826 * 0.05 * np.sqrt(step)))
    assert reached == pytest.approx(expected, abs=3.0 * np.sqrt(expected * (1.0 - expected) / 4000))


def test_impossible_input_is_refused():
    life, _ = fleet(2, 30)
    with pytest.raises(ValueError, match="give both for the same days"):
        replacement_days(life, fleet(2, 31)[1])
    with pytest.raises(ValueError, match="drift is 0"):
        drift_passage_cdf(1.0, 0.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="tolerance of row 0"):
        tolerance_days(np.zeros((1, 3)), np.zeros((1, 3)), np.ones(1), np.zeros(1))
    sds = np.full((2, 2), 0.1)
    with pytest.raises(ValueError, match="set rated shots"):
        LifeAhead(life.bow, life.from_shots, life.from_time, -life.per_shot, life.time_ahead, *sds, np.ones(2))
    with pytest.raises(ValueError, match="log spread of the shot coefficient of row 0 is"):
        LifeAhead(
            life.bow, life.from_shots, life.from_time, life.per_shot, life.time_ahead, -sds[0], sds[1], np.ones(2)
        )
