"""First passage of drifting Brownian motion: the inverse Gaussian (Chhikara & Folks 1989)."""

import numpy as np
import pytest
from scipy import integrate, stats

from service.forecast.passage import drift_passage_cdf


def test_drift_0_01_sigma_0_05_threshold_1():
    found = drift_passage_cdf([80.0, 100.0, 120.0], drift=0.01, sigma=0.05, threshold=1.0)
    assert found == pytest.approx([0.412309, 0.594411, 0.730491], abs=5e-7)


def test_mean_is_threshold_over_drift():
    days = np.linspace(1e-3, 3000.0, 400_001)
    survived = 1.0 - drift_passage_cdf(days, drift=0.01, sigma=0.05, threshold=1.0)
    assert integrate.trapezoid(survived, days) == pytest.approx(100.0, rel=1e-4)


@pytest.mark.parametrize(("drift", "sigma", "threshold"), [(0.01, 0.05, 1.0), (0.02, 0.001, 1.0), (0.3, 2.0, 5.0)])
def test_agrees_with_scipy(drift, sigma, threshold):
    shape = (threshold / sigma) ** 2
    theirs = stats.invgauss(threshold / drift / shape, scale=shape)
    days = threshold / drift * np.array([0.5, 0.99, 1.01, 1.5])
    assert drift_passage_cdf(days, drift, sigma, threshold) == pytest.approx(theirs.cdf(days), abs=1e-10)
