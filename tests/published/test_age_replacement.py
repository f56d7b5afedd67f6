"""Optimum replacement ages against published ones."""

import pytest

from service.wear.replacement import ReplacementCosts, cost_rate, optimum_age
from service.wear.weibull import WeibullLife


@pytest.mark.parametrize(
    ("eta", "beta", "condemned", "age", "rate"),
    [
        # The example of the `reliability` package's documentation (optimal replacement time), which prints the
        # grid value 493.19; the root and its rate were solved independently to more digits.
        (1000.0, 2.5, 5.0, 493.04696, 0.003462043),
        # Solved independently from the condition of Barlow & Hunter 1960; no printed table was found.
        (1.0, 2.0, 5.0, 0.510655, 4.085242),
        (1.0, 3.0, 10.0, 0.382456, 3.949350),
    ],
)
def test_optimum_age_and_its_cost_rate(eta, beta, condemned, age, rate):
    life, costs = WeibullLife(eta, beta), ReplacementCosts(1.0, condemned, "EUR")
    assert optimum_age(life, costs) == pytest.approx(age, rel=2e-6)
    assert cost_rate(life, costs, age) == pytest.approx(rate, rel=2e-6)


def test_the_optimum_lies_beside_the_grid_value_that_the_package_prints():
    """`reliability` package docs: 493.19 with a grid over time; the root differs by less than its grid step."""
    assert optimum_age(WeibullLife(1000.0, 2.5), ReplacementCosts(1.0, 5.0, "EUR")) == pytest.approx(493.19, abs=0.5)
