"""Moments of shots ahead against simulation and closed forms."""

import numpy as np
import pytest

from service.forecast.ahead import UseAhead, shots_ahead
from service.forecast.rates import GroupRate, RateBelief
from service.forecast.shots import SessionShots
from service.forecast.simulation import simulate_shots

GROUP = GroupRate(mean=0.4, worth_days=10.0)
PATHS = 20_000


def use_ahead(days: int = 60, booked: np.ndarray | None = None, discount: float = 0.99, clumping: float = 1.0):
    """Three bows: one much hired, one new, one hardly ever out."""
    belief = RateBelief(np.array([40.0, GROUP.shape, GROUP.shape + 1.0]), np.array([50.0, 10.0, 60.0]))
    shots = SessionShots(np.array([45.0, 45.0, 60.0]), np.array([0.05, 0.25, 0.2]), 0.6)
    exposure = np.tile([0.6, 0.7, 0.7, 0.8, 1.0, 1.8, 1.4], days // 7 + 1)[:days]
    return UseAhead(belief, GROUP, shots, exposure, booked, discount, clumping)


@pytest.mark.parametrize("discount", [1.0, 0.99, 0.9])
@pytest.mark.parametrize("clumping", [1.0, 3.0])
def test_moments_agree_with_simulation(discount, clumping):
    use = use_ahead(discount=discount, clumping=clumping)
    found = shots_ahead(use)
    for bow in range(3):
        drawn = simulate_shots(use, bow, np.random.default_rng(bow), PATHS)
        for day in (0, 6, 29, 59):
            error = np.sqrt(found.variance[bow, day] / PATHS)
            assert found.mean[bow, day] == pytest.approx(np.mean(drawn[:, day]), abs=4.0 * error)
            assert found.variance[bow, day] == pytest.approx(np.var(drawn[:, day]), rel=0.12)
            assert found.none[bow, day] == pytest.approx(np.mean(drawn[:, day] == 0.0), abs=0.02)


@pytest.mark.parametrize("probability", [0.1, 0.5, 0.9])
def test_quantiles_lie_within_a_quarter_session_or_7_percent_of_simulation(probability):
    use = use_ahead()
    found = shots_ahead(use)
    for bow in range(3):
        drawn = simulate_shots(use, bow, np.random.default_rng(bow), PATHS)
        for day in (6, 29, 59):
            expected = np.quantile(drawn[:, day], probability)
            room = max(0.07 * expected, 0.25 * use.shots.mean[bow])
            assert found.quantile(probability, day)[bow] == pytest.approx(expected, abs=room)


def test_without_forgetting_the_count_of_sessions_is_negative_binomial():
    use = use_ahead(discount=1.0)
    exact = UseAhead(use.belief, GROUP, SessionShots(np.ones(3), np.zeros(3), 1e-9), use.exposure, None, 1.0)
    found, total = shots_ahead(exact), float(np.sum(use.exposure))
    mean = use.belief.mean * total
    assert found.mean[:, -1] == pytest.approx(mean)
    assert found.variance[:, -1] == pytest.approx(mean + use.belief.shape * (total / use.belief.inverse_scale) ** 2)
    chance_of_none = (use.belief.inverse_scale / (use.belief.inverse_scale + total)) ** use.belief.shape
    assert found.none[:, -1] == pytest.approx(chance_of_none)


def test_quantile_and_chance_are_each_others_inverse():
    found, rows = shots_ahead(use_ahead()), np.arange(3)
    shots = found.quantile(0.9, 29)
    assert found.at_least(shots, rows, np.full(3, 29)) == pytest.approx([0.1] * 3, abs=1e-9)
    assert found.at_least(np.zeros(3), rows, np.full(3, 29)).tolist() == [1.0] * 3


def test_a_booking_takes_the_days_place_and_adds_its_shots():
    booked = np.zeros((3, 60))
    booked[0, 5] = 120.0
    plain, with_booking = shots_ahead(use_ahead()), shots_ahead(use_ahead(booked=booked))
    chance_day = plain.mean[0, 5] - plain.mean[0, 4]
    assert with_booking.mean[0, 5] == pytest.approx(plain.mean[0, 5] - chance_day + 120.0)
    assert with_booking.none[0, 5] == 0.0
    assert with_booking.mean[1:] == pytest.approx(plain.mean[1:])
    drawn = simulate_shots(use_ahead(booked=booked), 0, np.random.default_rng(1), PATHS)
    assert with_booking.mean[0, -1] == pytest.approx(np.mean(drawn[:, -1]), rel=0.02)
    assert with_booking.variance[0, -1] == pytest.approx(np.var(drawn[:, -1]), rel=0.08)


def test_a_closed_house_shoots_nothing():
    use = use_ahead()
    closed = UseAhead(use.belief, GROUP, use.shots, np.zeros(30))
    found = shots_ahead(closed)
    assert np.all(found.mean == 0.0) and np.all(found.none == 1.0)
    assert found.quantile(0.9, 29).tolist() == [0.0] * 3
    assert found.at_least(np.full(3, 1.0), np.arange(3), np.full(3, 29)).tolist() == [0.0] * 3


def test_what_is_known_fades_toward_the_group_and_never_below_it():
    shape = use_ahead(days=900).rate_shape()
    assert np.all(np.diff(shape, axis=1) <= 1e-12)
    assert shape[:, -1] == pytest.approx([GROUP.shape] * 3, rel=0.01)


def test_an_impossible_clumping_is_refused():
    with pytest.raises(ValueError, match="clumping of use is 0"):
        use_ahead(clumping=0.5)
