"""One replacement date from a mean rate."""

import numpy as np
import pytest

from service.wear.due import DueLabel, days_until, mean_rate, observed_days, replacement_date
from service.wear.exposure import exposure
from service.wear.life import LifeShares, LifeUsed
from tests.wear.fleets import DAY_S, cord_rows, fixed_places, fleet_rows, shot_rows

NOW = 200 * DAY_S


def test_date_by_hand() -> None:
    """0.86 used; 0.002 a day by shots (10 of 5,000), 0.0005 by time, 0.0003 by heat: 50 days to 1.00."""
    due = replacement_date(LifeUsed(0.58, 0.17, 0.11), LifeUsed(0.002, 0.0005, 0.0003), 10.0, 1.0, NOW)
    assert due.label is DueLabel.MEAN_RATE
    assert due.due_s == pytest.approx(NOW + 50 * DAY_S)
    assert due.reason == (
        "life used 0.86 of the replacement point 1.00; 10.0 shots a day; life used grows by 0.00280 a day "
        "(shots 0.00200, time 0.00050, heat 0.00030): 50 days left"
    )


def test_no_use_recorded_leaves_time_and_heat() -> None:
    due = replacement_date(LifeUsed(0.0, 0.5, 0.0), LifeUsed(0.0, 0.01, -0.005), 0.0, 1.0, NOW)
    assert due.label is DueLabel.TIME_ALONE
    assert due.due_s == pytest.approx(NOW + 100 * DAY_S)
    assert due.reason.startswith("no use recorded, so time and heat alone decide")
    assert "time 0.01000, less 0.00500 as it is kept colder than the reference temperature)" in due.reason


def test_past_the_point_is_due_now() -> None:
    due = replacement_date(LifeUsed(0.9, 0.2, 0.0), LifeUsed(0.001, 0.001, 0.0), 5.0, 1.0, NOW)
    assert (due.due_s, due.label) == (NOW, DueLabel.PAST)
    assert "replace now" in due.reason


def test_no_date_is_said_so() -> None:
    due = replacement_date(LifeUsed(0.1, 0.0, 0.0), LifeUsed(0.0, 1e-6, 0.0), 0.0, 1.0, NOW)
    assert (due.due_s, due.label) == (None, DueLabel.NEVER)
    assert "no date within 20 years" in due.reason


def test_the_date_is_when_the_model_itself_reaches_the_point() -> None:
    """Even use in an even climate: running the model on to the date gives the replacement point."""
    shots = shot_rows([(0, 0.0, 5000 * DAY_S, 50_000, np.nan)])
    rows, places = fleet_rows(shots=shots), fixed_places(21.0)
    since = NOW - 90 * DAY_S
    life = exposure(rows, places, NOW).life(rows.cords)
    recent = exposure(rows, places, NOW, since_s=since).life(rows.cords)
    days = float(observed_days(rows.cords.fitted_s, NOW, since)[0])
    rate = mean_rate(recent, days)
    due = replacement_date(life.row(0), rate.row(0), 10.0, 1.0, NOW)
    assert days == 90.0
    assert due.due_s is not None
    assert exposure(rows, places, due.due_s).life(rows.cords).total[0] == pytest.approx(1.0, rel=1e-9)


def test_many_cords_at_once() -> None:
    rate = LifeShares(np.array([0.01, 0.0, 0.01]), np.zeros(3), np.zeros(3))
    assert days_until(np.array([0.5, 0.5, 1.5]), rate, 1.0).days.tolist() == [50.0, np.inf, 0.0]
    assert days_until(np.array([0.5, 0.5, 0.9]), rate, np.array([0.6, 1.0, 0.95])).days == pytest.approx(
        [10.0, np.inf, 5.0]
    )


def test_observed_days_start_with_the_fitting() -> None:
    cords = cord_rows(fitted_s=[0.0, NOW - 10 * DAY_S, NOW + 5 * DAY_S])
    assert observed_days(cords.fitted_s, NOW, NOW - 90 * DAY_S).tolist() == [90.0, 10.0, 0.0]


def test_a_window_without_length_has_no_rate() -> None:
    with pytest.raises(ValueError, match="must be longer than 0 days"):
        mean_rate(LifeShares(np.zeros(1), np.zeros(1), np.zeros(1)), 0.0)
