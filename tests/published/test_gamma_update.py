"""The conjugate gamma update behind the life posterior, against a published example."""

import numpy as np
import pytest
from scipy import stats

from service.wear.grid import weighted_quantiles
from service.wear.learning import CordLife, LifePrior, Outcome, history_of, learn_at_shape


def prior_of_gamma(a: float, b: float) -> LifePrior:
    """The life prior whose rate per unit of age at shape 1 is Gamma(a, b)."""
    unit = LifePrior(worth_cords=a)
    return LifePrior(b10=b / unit.rate_inverse_scale, worth_cords=a)


def test_mean_time_between_failures_of_the_nist_handbook():
    """NIST/SEMATECH e-Handbook 8.4.6: a 2.863, b 1522.46, 2 failures in 3000 h -> median 997.4, lower 689.7, 504.5."""
    history = history_of(
        [
            CordLife(Outcome.CONDEMNED, 1200.0, last_good=1200.0),
            CordLife(Outcome.CONDEMNED, 800.0, last_good=800.0),
            CordLife(Outcome.FITTED, 1000.0),
        ]
    )
    posterior = learn_at_shape(history, 1.0, prior_of_gamma(2.863, 1522.46))
    # At shape 1 eta is the mean time between failures; a lower limit at 80 % is its 20 % point.
    found = weighted_quantiles(posterior.eta, posterior.weight, np.array([0.5, 0.2, 0.05]))
    assert found == pytest.approx([997.4, 689.7, 504.5], abs=0.05)


@pytest.mark.parametrize("beta", [1.5, 3.0])
def test_a_fixed_shape_updates_the_gamma_in_closed_form(beta):
    """Weibull with fixed shape: eta^-beta ~ Gamma(a, b) -> Gamma(a + r, b + sum t^beta); the same handbook section."""
    ages, failed = np.array([0.7, 0.9, 1.1, 1.0, 0.4]), np.array([True, True, False, False, True])
    history = history_of(
        [
            CordLife(Outcome.CONDEMNED if gone else Outcome.PLANNED, age, last_good=age)
            for age, gone in zip(ages, failed, strict=True)
        ]
    )
    prior = LifePrior(worth_cords=3.0)
    posterior = learn_at_shape(history, beta, prior)
    exact = stats.gamma(3.0 + failed.sum(), scale=1.0 / (prior.rate_inverse_scale + np.sum(ages**beta)))
    wanted = np.array([0.05, 0.5, 0.95])
    found = weighted_quantiles(posterior.eta**-beta, posterior.weight, wanted)
    assert found == pytest.approx(exact.ppf(wanted), rel=1e-4)
