"""Exposure: weekdays, seasons, closed days."""

from datetime import date

import numpy as np
import pytest

from service.forecast.pattern import UsePattern, calendar_from, even_pattern, learn_pattern

EVERY_DAY = frozenset(range(7))


def test_calendar_knows_weekdays_months_and_closed_days():
    calendar = calendar_from(date(2031, 2, 27), 4, frozenset({3, 4, 5}), frozenset({date(2031, 2, 28)}))
    assert calendar.weekday.tolist() == [3, 4, 5, 6]
    assert calendar.month.tolist() == [1, 1, 2, 2]
    assert calendar.open_share.tolist() == [1.0, 0.0, 1.0, 0.0]


def test_weekday_and_season_are_recovered_from_two_years():
    calendar = calendar_from(date(2030, 1, 1), 730, EVERY_DAY, frozenset())
    weekday = np.array([0.6, 0.7, 0.7, 0.8, 1.0, 1.8, 1.4])
    season = 1.0 + 0.6 * np.sin(np.arange(12) * 2.0 * np.pi / 12.0)
    mean = 40.0 * weekday[calendar.weekday] * season[calendar.month]
    found = learn_pattern(calendar, np.random.default_rng(1).poisson(mean).astype(float), np.full(730, 50.0))
    assert found.season_learned
    assert found.weekday == pytest.approx(weekday, rel=0.05)
    assert found.season / np.mean(found.season) == pytest.approx(season, rel=0.08)


def test_a_season_is_not_read_into_half_a_year():
    calendar = calendar_from(date(2030, 1, 1), 180, EVERY_DAY, frozenset())
    found = learn_pattern(calendar, np.linspace(0.0, 80.0, 180), np.full(180, 50.0))
    assert not found.season_learned
    assert found.season.tolist() == [1.0] * 12


def test_a_few_sessions_barely_move_the_factors():
    calendar = calendar_from(date(2030, 1, 1), 14, EVERY_DAY, frozenset())
    sessions = np.zeros(14)
    sessions[5] = 2.0
    assert np.all(np.abs(learn_pattern(calendar, sessions, np.ones(14)).weekday - 1.0) < 0.2)


def test_more_bows_are_not_taken_for_a_busier_season():
    calendar = calendar_from(date(2030, 1, 1), 365, EVERY_DAY, frozenset())
    bows = np.where(np.arange(365) < 180, 20.0, 60.0)
    found = learn_pattern(calendar, 0.5 * bows, bows)
    assert found.season == pytest.approx(np.ones(12), abs=0.02)


def test_closed_days_have_no_exposure_and_do_not_pull_their_weekday_down():
    calendar = calendar_from(date(2030, 1, 1), 140, frozenset({0, 1, 2, 3, 4}), frozenset())
    found = learn_pattern(calendar, 5.0 * calendar.open_share, np.full(140, 10.0))
    assert found.weekday[:5] == pytest.approx(np.ones(5), abs=1e-9)
    assert np.all(found.exposure(calendar)[calendar.weekday >= 5] == 0.0)


def test_sessions_on_a_closed_weekday_do_not_make_it_a_busy_one():
    calendar = calendar_from(date(2030, 1, 1), 140, frozenset({1, 2, 3, 4, 5, 6}), frozenset())
    found = learn_pattern(calendar, np.where(calendar.weekday == 0, 2.0, 5.0), np.full(140, 10.0))
    assert found.weekday == pytest.approx(np.ones(7), abs=1e-9)


def test_a_busier_summer_scales_the_exposure():
    calendar = calendar_from(date(2030, 6, 3), 7, EVERY_DAY, frozenset())
    assert even_pattern().busier(1.3).exposure(calendar) == pytest.approx(np.full(7, 1.3))


def test_impossible_factors_and_days_are_refused():
    with pytest.raises(ValueError, match="give 7 numbers of 0 or more"):
        UsePattern(np.ones(6), np.ones(12), season_learned=False)
    with pytest.raises(ValueError, match="give one weekday, month and open share per day"):
        calendar = calendar_from(date(2030, 1, 1), 7, EVERY_DAY, frozenset())
        type(calendar)(calendar.weekday, calendar.month[:-1], calendar.open_share)
