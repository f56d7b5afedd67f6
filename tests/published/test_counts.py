"""The discounted gamma-Poisson count model against worked numbers.

Sources: the conjugate update is textbook (Gelman et al., Bayesian Data Analysis, section 2.6, from memory); the
discounted rows were worked by hand from West & Harrison 1997 section 10.8.
"""

import numpy as np
import pytest

from service.forecast.rates import GroupRate, RateBelief, SessionRows, advance, learn_rates

COUNTS = np.array([3.0, 0.0, 1.0, 4.0, 2.0, 2.0, 1.0, 5.0, 0.0, 2.0])
NEW = np.zeros(1, dtype=np.int64)


def rows_of(counts: np.ndarray) -> SessionRows:
    return SessionRows(np.zeros(counts.size, dtype=np.int64), np.arange(counts.size), counts)


def test_without_discount_the_belief_is_the_sum_and_the_prediction_negative_binomial():
    belief = learn_rates(rows_of(COUNTS), np.ones(10), NEW, group=None, discount=1.0)
    assert (belief.shape[0], belief.inverse_scale[0]) == (20.0, 10.0)
    assert belief.probability_of([0, 1, 2, 3])[0] == pytest.approx([0.148644, 0.270261, 0.257977, 0.171984], abs=5e-7)


def test_discount_of_0_8():
    belief = learn_rates(rows_of(COUNTS), np.ones(10), NEW, group=None, discount=0.8)
    assert belief.mean[0] == pytest.approx(1.982355, abs=5e-7)
    # The next day is forecast after the night's discount.
    overnight = advance(belief, np.zeros(1), exposure=0.0, group=None, discount=0.8)
    assert overnight.probability_of([0])[0, 0] == pytest.approx(0.174178, abs=5e-7)


def test_a_gamma_belief_takes_in_four_days():
    """Gamma(10, 2) with 6, 2, 2, 1 -> Gamma(21, 6)."""
    group = GroupRate(mean=5.0, worth_days=2.0)
    belief = learn_rates(rows_of(np.array([6.0, 2.0, 2.0, 1.0])), np.ones(4), NEW, group, discount=1.0)
    assert (belief.shape[0], belief.inverse_scale[0]) == (21.0, 6.0)
    step = RateBelief(np.array([10.0]), np.array([2.0]))
    for count in (6.0, 2.0, 2.0, 1.0):
        step = advance(step, np.array([count]), 1.0, group, discount=1.0)
    assert (step.shape[0], step.inverse_scale[0]) == (21.0, 6.0)
