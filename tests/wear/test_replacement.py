"""Replacement point: minimum of the cost, long-run simulation, the three limits, no finite optimum."""

import numpy as np
import pytest
from scipy import integrate

from service.wear.replacement import (
    Binding,
    ReplacementCosts,
    cost_rate,
    integral_of_survival,
    optimum_age,
    replacement_point,
)
from service.wear.weibull import WeibullLife

COSTS = ReplacementCosts(planned=45.0, condemned=270.0, currency="EUR")


@pytest.mark.parametrize("beta", [0.7, 1.0, 2.5, 6.0])
def test_integral_of_survival_agrees_with_quadrature(beta):
    life = WeibullLife(1.3, beta)
    expected = integrate.quad(lambda x: float(life.survival(x)), 0.0, 1.7, epsabs=1e-12)[0]
    assert integral_of_survival(life, 1.7) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("beta", [1.2, 2.0, 3.0, 8.0])
def test_no_age_costs_less_than_the_optimum(beta):
    life = WeibullLife(1.4, beta)
    best = optimum_age(life, COSTS)
    least = cost_rate(life, COSTS, best)
    assert all(cost_rate(life, COSTS, age) >= least * (1.0 - 1e-12) for age in np.geomspace(best / 30, best * 30, 400))


def test_cost_rate_is_what_a_long_run_costs():
    life, age, rng = WeibullLife(1.4, 3.0), 0.9, np.random.default_rng(1)
    ages = life.eta * rng.exponential(size=400_000) ** (1.0 / life.beta)
    spent = np.where(ages < age, COSTS.condemned, COSTS.planned).sum() / np.minimum(ages, age).sum()
    assert cost_rate(life, COSTS, age) == pytest.approx(spent, rel=0.01)


@pytest.mark.parametrize("beta", [0.6, 1.0])
def test_a_cord_that_does_not_age_has_no_optimum_and_the_cap_rules(beta):
    point = replacement_point(WeibullLife(2.0, beta), COSTS)
    assert (point.optimum, point.binding, point.life_used) == (None, Binding.CAP, 1.0)
    assert "at most 1" in point.reason


def test_where_condemned_costs_no_more_there_is_no_optimum():
    point = replacement_point(WeibullLife(2.0, 3.0), ReplacementCosts(50.0, 50.0, "EUR"))
    assert (point.optimum, point.binding) == (None, Binding.CAP)
    assert "costs no more than a planned change" in point.reason


def test_a_shape_barely_above_one_finds_its_far_root_or_says_none():
    far = optimum_age(WeibullLife(1.0, 1.1), ReplacementCosts(1.0, 3.0, "EUR"))
    assert far is not None and far > 10.0
    assert optimum_age(WeibullLife(1.0, 1.0001), ReplacementCosts(1.0, 1.01, "EUR")) is None


@pytest.mark.parametrize(
    ("cap", "hard_limit", "binding", "life_used"),
    [(1.0, None, Binding.OPTIMUM, None), (0.5, 1.2, Binding.CAP, 0.5), (1.0, 0.4, Binding.HARD_LIMIT, 0.4)],
)
def test_the_least_of_the_three_binds_and_the_reason_says_so(cap, hard_limit, binding, life_used):
    life = WeibullLife(1.4, 3.0)
    point = replacement_point(life, COSTS, cap, hard_limit)
    assert point.binding is binding
    assert point.life_used == (optimum_age(life, COSTS) if life_used is None else life_used)
    assert f"the {binding.value} binds" in point.reason
    for number in (f"{point.life_used:.2f}", "45.00 EUR", "270.00 EUR", "shape 3.00", f"house cap {cap:.2f}"):
        assert number in point.reason


@pytest.mark.parametrize(("cap", "hard_limit"), [(0.0, None), (np.nan, None), (1.0, -0.1)])
def test_impossible_limits_are_refused(cap, hard_limit):
    with pytest.raises(ValueError, match="must be above 0"):
        replacement_point(WeibullLife(1.4, 3.0), COSTS, cap, hard_limit)


@pytest.mark.parametrize(("planned", "condemned"), [(0.0, 10.0), (10.0, -1.0), (np.inf, 10.0)])
def test_impossible_costs_are_refused_with_the_currency(planned, condemned):
    with pytest.raises(ValueError, match="EUR"):
        ReplacementCosts(planned, condemned, "EUR")
