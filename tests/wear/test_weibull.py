"""Weibull likelihood and fit: independent fits agree on random censored data; edges; intervals that cover."""

import warnings

import numpy as np
import pytest
from lifelines import WeibullFitter
from reliability.Fitters import Fit_Weibull_2P
from scipy import stats

from service.wear.weibull import LifeData, NoFit, WeibullLife, fit, log_likelihood


def ages_with_planned_ends(seed: int, count: int = 60) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    truth = WeibullLife(rng.uniform(0.5, 3.0), rng.uniform(0.8, 5.0))
    age = truth.eta * rng.exponential(size=count) ** (1.0 / truth.beta)
    planned = rng.uniform(0.4, 2.0, count) * truth.eta
    return np.minimum(age, planned), age <= planned


def between_checks(seed: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    age = 1.5 * rng.exponential(size=60) ** (1.0 / 2.5)
    step, planned = 0.1, 1.6
    lower = np.floor(np.minimum(age, planned - 1e-9) / step) * step
    upper = np.where(age < planned, lower + step, np.inf)
    return np.where(np.isinf(upper), planned, lower), upper


@pytest.mark.parametrize("seed", range(8))
def test_exact_and_right_censored_agree_with_three_independent_fits(seed):
    age, failed = ages_with_planned_ends(seed)
    found = fit(LifeData.observed(age[failed], age[~failed]))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = WeibullFitter().fit(age, failed)
        other = Fit_Weibull_2P(
            failures=age[failed],
            right_censored=age[~failed],
            show_probability_plot=False,
            print_results=False,
        )
        shape, _, scale = stats.weibull_min.fit(stats.CensoredData.right_censored(age, ~failed), floc=0)
    for eta, beta in ((theirs.lambda_, theirs.rho_), (other.alpha, other.beta), (scale, shape)):
        assert found.life.eta == pytest.approx(eta, rel=1e-3)
        assert found.life.beta == pytest.approx(beta, rel=1e-3)
    assert found.log_likelihood == pytest.approx(theirs.log_likelihood_, abs=1e-5)
    assert found.log_likelihood >= theirs.log_likelihood_ - 1e-9
    their_errors = [theirs.summary.loc[name, "se(coef)"] for name in ("lambda_", "rho_")]
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(their_errors, rel=2e-3)


@pytest.mark.parametrize("seed", range(5))
def test_interval_censored_agrees_with_two_independent_fits(seed):
    lower, upper = between_checks(seed)
    found = fit(LifeData(lower, upper, np.zeros_like(lower)))
    theirs = WeibullFitter().fit_interval_censoring(lower, upper)
    good = np.isinf(upper)
    data = stats.CensoredData(interval=np.column_stack([lower, upper])[~good], right=lower[good])
    shape, _, scale = stats.weibull_min.fit(data, floc=0)
    for eta, beta in ((theirs.lambda_, theirs.rho_), (scale, shape)):
        assert found.life.eta == pytest.approx(eta, rel=1e-3)
        assert found.life.beta == pytest.approx(beta, rel=1e-3)
    assert found.log_likelihood == pytest.approx(theirs.log_likelihood_, abs=1e-4)


@pytest.mark.parametrize("seed", range(5))
def test_left_truncated_agrees_with_an_independent_fit(seed):
    rng = np.random.default_rng(seed)
    age, failed = ages_with_planned_ends(seed, 120)
    entry = np.where(rng.random(120) < 0.5, rng.uniform(0.0, 0.8, 120), 0.0)
    kept = entry < age
    age, failed, entry = age[kept], failed[kept], entry[kept]
    found = fit(LifeData(age, np.where(failed, age, np.inf), entry))
    theirs = WeibullFitter().fit(age, failed, entry=entry)
    assert found.life.eta == pytest.approx(theirs.lambda_, rel=1e-3)
    assert found.life.beta == pytest.approx(theirs.rho_, rel=1e-3)
    assert found.log_likelihood == pytest.approx(theirs.log_likelihood_, abs=1e-5)


def test_ignoring_delayed_entry_would_flatter_the_cords():
    age, failed = ages_with_planned_ends(3, 400)
    entry = np.full(400, 0.5)
    kept = entry < age
    age, failed, entry = age[kept], failed[kept], entry[kept]
    upper = np.where(failed, age, np.inf)
    naive = fit(LifeData(age, upper, np.zeros_like(age)))
    assert naive.life.survival(0.5) > fit(LifeData(age, upper, entry)).life.survival(0.5)


def test_profile_interval_ends_where_the_likelihood_has_fallen_by_the_chi_square_drop():
    age, failed = ages_with_planned_ends(1)
    found = fit(LifeData.observed(age[failed], age[~failed]))
    drop = stats.chi2.ppf(0.9, 1) / 2.0
    ends = found.profile_beta(0.9)
    for beta in (ends.lower, ends.upper):
        # For a fixed shape the best eta has a closed form.
        eta = (np.sum(age**beta) / failed.sum()) ** (1.0 / beta)
        assert found.log_likelihood - log_likelihood(found.data, WeibullLife(eta, beta)) == pytest.approx(
            drop, abs=1e-6
        )


def test_profile_and_wald_meet_when_failures_are_many():
    age, failed = ages_with_planned_ends(2, 4000)
    found = fit(LifeData.observed(age[failed], age[~failed]))
    for profile, wald in ((found.profile_eta(), found.wald_eta()), (found.profile_beta(), found.wald_beta())):
        assert (profile.lower, profile.upper) == pytest.approx((wald.lower, wald.upper), rel=3e-3)


def test_profile_intervals_cover_a_known_truth():
    rng, truth, hits = np.random.default_rng(11), WeibullLife(1.4, 3.0), 0
    for _ in range(200):
        age = truth.eta * rng.exponential(size=30) ** (1.0 / truth.beta)
        found = fit(LifeData.observed(age[age <= 1.5], np.full(np.count_nonzero(age > 1.5), 1.5)))
        interval = found.profile_beta(0.9)
        hits += interval.lower <= truth.beta <= interval.upper
    assert hits / 200 == pytest.approx(0.9, abs=3.0 * np.sqrt(0.9 * 0.1 / 200))


def test_units_do_not_matter():
    age, failed = ages_with_planned_ends(5)
    small = fit(LifeData.observed(age[failed], age[~failed]))
    large = fit(LifeData.observed(age[failed] * 1e6, age[~failed] * 1e6))
    assert large.life.eta == pytest.approx(small.life.eta * 1e6, rel=1e-7)
    assert large.life.beta == pytest.approx(small.life.beta, rel=1e-7)


def test_b10_is_the_age_by_which_a_tenth_has_failed():
    life = WeibullLife.from_b10(1.0, 3.0)
    assert float(life.survival(1.0)) == pytest.approx(0.9, rel=1e-12)
    assert life.b10 == pytest.approx(1.0, rel=1e-12)
    # The wear model writes the same life as P(condemned by D) = 1 - 0.9^(D^beta).
    assert float(life.survival(0.7)) == pytest.approx(0.9 ** (0.7**3.0), rel=1e-12)


def test_hazard_is_the_slope_of_the_cumulative_hazard():
    life, age, step = WeibullLife(1.7, 2.2), np.array([0.2, 1.0, 3.0]), 1e-6
    slope = (life.cumulative_hazard(age + step) - life.cumulative_hazard(age - step)) / (2.0 * step)
    assert life.hazard(age) == pytest.approx(slope, rel=1e-7)


@pytest.mark.parametrize(
    ("data", "needed"),
    [
        (LifeData.observed([], [1.0, 2.0]), "at least 2 failures, there are 0"),
        (LifeData.observed([1.0], [1.0, 2.0]), "at least 2 failures, there are 1"),
        (LifeData.observed([1.0, 1.0, 1.0], [0.5]), "do not fix the shape"),
    ],
)
def test_too_little_data_is_refused_with_the_next_step(data, needed):
    with pytest.raises(NoFit, match=needed) as refused:
        fit(data)
    assert "prior stands" in str(refused.value)


@pytest.mark.parametrize(
    ("lower", "upper", "entry"),
    [(1.0, 0.5, 0.0), (-1.0, 2.0, 0.0), (0.5, 1.0, 0.7), (np.nan, 1.0, 0.0), (0.0, 0.0, 0.0)],
)
def test_impossible_rows_are_refused_by_number(lower, upper, entry):
    with pytest.raises(ValueError, match="life data row 1"):
        LifeData(np.array([1.0, lower]), np.array([1.0, upper]), np.array([0.0, entry]))


@pytest.mark.parametrize(("eta", "beta"), [(0.0, 1.0), (1.0, -2.0), (np.inf, 1.0)])
def test_impossible_lives_are_refused(eta, beta):
    with pytest.raises(ValueError, match="must be above 0"):
        WeibullLife(eta, beta)


@pytest.mark.parametrize("seed", range(4))
def test_the_b10_interval_agrees_with_one_from_an_independent_covariance(seed):
    """Delta method on log B10 = log eta + log(-ln 0.9) / beta, by hand from the errors that `reliability` finds."""
    age, failed = ages_with_planned_ends(seed)
    found = fit(LifeData.observed(age[failed], age[~failed]))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = Fit_Weibull_2P(
            failures=age[failed], right_censored=age[~failed], show_probability_plot=False, print_results=False
        )
    by_beta = -np.log(-np.log(0.9)) / theirs.beta**2
    variance = (
        (theirs.alpha_SE / theirs.alpha) ** 2
        + (by_beta * theirs.beta_SE) ** 2
        + 2.0 * by_beta / theirs.alpha * theirs.Cov_alpha_beta
    )
    b10 = theirs.alpha * (-np.log(0.9)) ** (1.0 / theirs.beta)
    factor = np.exp(stats.norm.ppf(0.975) * np.sqrt(variance))
    interval = found.log_wald_b10(0.95)
    assert found.life.b10 == pytest.approx(b10, rel=1e-3)
    assert interval.lower == pytest.approx(b10 / factor, rel=5e-3)
    assert interval.upper == pytest.approx(b10 * factor, rel=5e-3)
