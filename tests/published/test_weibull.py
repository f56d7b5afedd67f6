"""Weibull fits against published ones."""

import pytest

from service.wear.weibull import LifeData, fit


def test_right_censored_fit_of_the_nist_handbook():
    """NIST/SEMATECH e-Handbook of Statistical Methods 8.4.1.3: ten failures, ten more censored at 500 h.

    The handbook's optimiser stopped within 0.0005 h of the maximum, hence the tolerance on eta.
    """
    found = fit(LifeData.observed([54, 187, 216, 240, 244, 335, 361, 373, 375, 386], [500] * 10))
    assert found.life.eta == pytest.approx(606.5280, abs=5e-4)
    assert found.life.beta == pytest.approx(1.7208, abs=5e-5)
    assert -found.log_likelihood == pytest.approx(75.135, abs=5e-4)


def test_right_censored_fit_and_wald_intervals_of_a_journal_example():
    """Journal of Quality Technology 1997, doi 10.1080/00224065.1997.11979730."""
    failed = [45, 46, 34, 45, 32, 24, 58, 79, 56, 63, 34, 50]
    still_good = [23, 24, 57, 78, 76, 85, 51, 59]
    found = fit(LifeData.observed(failed, still_good))
    beta, eta = found.wald_beta(0.95), found.wald_eta(0.95)
    assert found.life.beta == pytest.approx(2.7540, abs=5e-5)
    assert (beta.lower, beta.upper) == pytest.approx((1.4977, 4.0102), abs=1e-4)
    assert found.life.eta == pytest.approx(67.9188, abs=5e-5)
    assert (eta.lower, eta.upper) == pytest.approx((53.8755, 81.9622), abs=1e-4)
