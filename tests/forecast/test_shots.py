"""Shots per session: recovered from simulation, drawn toward the group, house values without history."""

import numpy as np
import pytest

from service.forecast.shots import HouseShots, learn_shots


def test_means_and_spread_are_recovered():
    rng, bows = np.random.default_rng(0), 400
    truth = 45.0 * np.exp(0.25 * rng.standard_normal(bows))
    bow = rng.integers(0, bows, 20_000)
    found = learn_shots(bow, rng.gamma(0.6**-2, truth[bow] * 0.6**2), bows)
    assert found.relative_sd == pytest.approx(0.6, rel=0.08)
    assert np.mean(np.abs(found.mean / truth - 1.0)) < 0.08
    assert np.std((found.mean - truth) / (found.mean_relative_sd * found.mean)) == pytest.approx(1.0, rel=0.15)


def test_a_bow_with_one_session_leans_on_its_group():
    usual = np.random.default_rng(1).gamma(3.0, 15.0, 60)
    bow = np.concatenate([np.repeat([0, 3, 4], 20), [1]])
    found = learn_shots(bow, np.append(usual, 160.0), 5)
    assert np.mean(usual) < found.mean[1] < 100.0
    assert found.mean_relative_sd[1] > found.mean_relative_sd[0]
    assert found.mean_relative_sd[2] * found.mean[2] > found.mean_relative_sd[1] * found.mean[1]


def test_without_sessions_the_house_speaks():
    found = learn_shots(np.zeros(0, dtype=np.int64), np.zeros(0), 2, HouseShots(mean=50.0))
    assert found.mean.tolist() == [50.0, 50.0]
    assert found.relative_sd == pytest.approx(0.6)
    assert found.mean_relative_sd == pytest.approx([0.25, 0.25])


def test_impossible_shots_and_settings_are_refused():
    with pytest.raises(ValueError, match="shots of a session must be 0 or more"):
        learn_shots(np.array([0]), np.array([-3.0]), 1)
    with pytest.raises(ValueError, match="every setting must be above 0"):
        HouseShots(mean=0.0)
