"""Inspection steps: the risk equation itself, the edges, the house maximum."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.wear.inspection import StepLimit, inspection_step, next_inspection
from service.wear.weibull import WeibullLife

LIFE = WeibullLife.from_b10(1.0, 3.0)


@given(
    used=st.floats(0.0, 5.0),
    b10=st.floats(0.1, 4.0),
    beta=st.floats(0.6, 8.0),
    target=st.floats(0.001, 0.2),
)
def test_the_step_spends_the_whole_risk_and_no_more(used, b10, beta, target):
    life = WeibullLife.from_b10(b10, beta)
    step = float(inspection_step(used, life, target))
    assert step > 0.0 or used > 1e3 * life.eta
    spent = float(life.cumulative_hazard(used + step) - life.cumulative_hazard(used))
    # The difference of two large hazards is only as exact as the larger one.
    slack = 1e-9 + 1e-13 * float(life.cumulative_hazard(used))
    assert spent == pytest.approx(-np.log1p(-target), rel=1e-8, abs=slack)


def test_steps_shorten_as_an_ageing_cord_wears():
    steps = inspection_step(np.linspace(0.0, 2.0, 20), LIFE)
    assert np.all(np.diff(steps) < 0.0)


def test_the_wear_models_own_example_of_a_new_cord():
    # P(condemned by D) = 1 - 0.9^(D^3) = 1 % at D = (ln 0.99 / ln 0.9)^(1/3).
    assert float(inspection_step(0.0, LIFE)) == pytest.approx((np.log(0.99) / np.log(0.9)) ** (1 / 3), rel=1e-12)


def test_the_house_maximum_binds_for_a_slow_bow_and_the_risk_for_a_busy_one():
    slow, busy = next_inspection(0.2, 0.002, LIFE), next_inspection(0.9, 0.01, LIFE)
    assert (slow.days, slow.limit) == (30.0, StepLimit.HOUSE_MAXIMUM)
    assert busy.limit is StepLimit.RISK
    assert busy.days == pytest.approx(busy.step_life_used / 0.01)
    assert "house maximum" in slow.reason and "risk target" in busy.reason and "1 %" in busy.reason


def test_a_bow_not_in_use_is_still_looked_at():
    idle = next_inspection(0.5, 0.0, LIFE)
    assert (idle.days, idle.limit) == (30.0, StepLimit.HOUSE_MAXIMUM)
    assert "not in use" in idle.reason


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"life_used": -0.1, "life_per_day": 0.01}, "life used is -0.1"),
        ({"life_used": 0.1, "life_per_day": -0.01}, "life used per day is -0.01"),
        ({"life_used": 0.1, "life_per_day": 0.01, "risk_target": 0.0}, "risk target is 0.0"),
        (
            {"life_used": 0.1, "life_per_day": 0.01, "maximum_days": 0.0},
            "house maximum between inspections is 0.0",
        ),
    ],
)
def test_impossible_input_is_refused(arguments, message):
    with pytest.raises(ValueError, match=message):
        next_inspection(life=LIFE, **arguments)
