"""Learning a spec's life: calibration on simulated fleets, the grid against quadrature, what the page says."""

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from service.wear.learning import CordLife, LifePosterior, LifePrior, Outcome, history_of, learn
from service.wear.weibull import WeibullLife, fit, log_likelihood

RUNS = 300
THREE_ERRORS = 3.0 * np.sqrt(0.9 * 0.1 / RUNS)


def simulated_fleet(life: WeibullLife, cords: int, rng: np.random.Generator) -> list[CordLife]:
    """Checked every 0.08 of rated life, some in use when the book began, some lost or changed before the end."""
    stories: list[CordLife] = []
    while len(stories) < cords:
        story = simulated_cord(life, rng)
        if story is not None:
            stories.append(story)
    return stories


def simulated_cord(life: WeibullLife, rng: np.random.Generator) -> CordLife | None:
    entry = rng.uniform(0.1, 0.6) if rng.random() < 0.2 else 0.0
    age = life.eta * rng.exponential() ** (1.0 / life.beta)
    if age <= entry:
        return None
    end, outcome = 1.2, Outcome.PLANNED
    if rng.random() < 0.3:
        end, outcome = (
            entry + rng.uniform(0.05, 0.6),
            rng.choice([Outcome.FITTED, Outcome.INCIDENT, Outcome.UNKNOWN]),
        )
    if age > end:
        return CordLife(Outcome(outcome), end, entry=entry)
    good = entry + np.floor((age - entry) / 0.08) * 0.08
    return CordLife(Outcome.CONDEMNED, min(good + 0.08, end), last_good=good, entry=entry)


def covered(posterior: LifePosterior, truth: WeibullLife) -> tuple[bool, bool]:
    beta, eta = posterior.credible_beta(0.9), posterior.credible_eta(0.9)
    return beta.lower <= truth.beta <= beta.upper, eta.lower <= truth.eta <= eta.upper


def test_credible_intervals_cover_truths_drawn_from_the_prior():
    rng, prior = np.random.default_rng(20), LifePrior()
    hits = [covered(learn(history_of(simulated_fleet(t, 40, rng)), prior), t) for t in prior.draw(RUNS, rng)]
    assert np.mean(hits, axis=0) == pytest.approx([0.9, 0.9], abs=THREE_ERRORS)


def test_credible_intervals_cover_a_fixed_truth_with_fifty_failures():
    rng, truth, hits = np.random.default_rng(21), WeibullLife(1.9, 2.6), []
    for _ in range(RUNS):
        stories: list[CordLife] = []
        while sum(story.outcome is Outcome.CONDEMNED for story in stories) < 50:
            stories += simulated_fleet(truth, 1, rng)
        hits.append(covered(learn(history_of(stories)), truth))
    assert np.mean(hits, axis=0) == pytest.approx([0.9, 0.9], abs=THREE_ERRORS)


def test_grid_agrees_with_two_dimensional_quadrature():
    prior = LifePrior()
    history = history_of(simulated_fleet(WeibullLife(1.5, 3.5), 25, np.random.default_rng(4)))
    posterior = learn(history, prior)

    def density(log_eta: float, log_beta: float) -> float:
        life = WeibullLife(np.exp(log_eta), np.exp(log_beta))
        # Independent prior: rate = (1/eta)^beta is gamma, ln beta normal; d rate / d ln eta = beta rate.
        rate = life.eta**-life.beta
        believed = stats.gamma.logpdf(rate, prior.worth_cords, scale=1.0 / prior.rate_inverse_scale)
        believed += np.log(life.beta * rate) + stats.norm.logpdf(log_beta, np.log(prior.beta), prior.log_beta_sd)
        return np.exp(believed + log_likelihood(history.data, life) - peak)

    peak = fit(history.data).log_likelihood
    log_eta, log_beta = np.linspace(-0.4, 2.2, 200), np.linspace(np.log(0.7), np.log(12.0), 100)
    table = np.array([[density(e, b) for e in log_eta] for b in log_beta])
    total = integrate.trapezoid(integrate.trapezoid(table, log_eta, axis=1), log_beta)
    beta_cdf = np.append(0.0, integrate.cumulative_trapezoid(integrate.trapezoid(table, log_eta, axis=1), log_beta))
    eta_cdf = np.append(0.0, integrate.cumulative_trapezoid(integrate.trapezoid(table, log_beta, axis=0), log_eta))
    for interval, cdf, nodes in (
        (posterior.credible_beta(0.9), beta_cdf, log_beta),
        (posterior.credible_eta(0.9), eta_cdf, log_eta),
    ):
        ends = np.exp(np.interp([0.05 * total, 0.95 * total], cdf, nodes))
        assert (interval.lower, interval.upper) == pytest.approx(tuple(ends), rel=3e-3)


def test_without_history_the_prior_speaks():
    posterior = learn(history_of([]), LifePrior(b10=1.0, beta=3.0))
    assert posterior.planning_life.b10 == pytest.approx(1.0, rel=2e-3)
    assert posterior.planning_life.beta == pytest.approx(3.0, rel=2e-3)
    assert posterior.prior_leads
    assert "Under 3 condemned cords the prior still leads." in posterior.account()


def test_two_condemned_leave_the_lead_to_the_prior_and_three_take_it():
    stories = [CordLife(Outcome.CONDEMNED, 0.9 + 0.1 * n, last_good=0.85 + 0.1 * n) for n in range(3)]
    assert learn(history_of(stories[:2])).prior_leads
    learned = learn(history_of(stories))
    assert not learned.prior_leads
    assert "still leads" not in learned.account()


def test_a_prior_worth_more_cords_moves_less():
    stories = simulated_fleet(WeibullLife(0.8, 3.0), 30, np.random.default_rng(2))
    light, heavy = (learn(history_of(stories), LifePrior(worth_cords=w)).planning_life.b10 for w in (3.0, 100.0))
    assert light < heavy < 1.0


def test_much_history_overrules_the_prior_and_meets_the_likelihood():
    history = history_of(simulated_fleet(WeibullLife(0.7, 2.0), 1500, np.random.default_rng(3)))
    learned, found = learn(history).planning_life, fit(history.data).life
    assert learned.b10 == pytest.approx(found.b10, rel=0.02)
    assert learned.beta == pytest.approx(found.beta, rel=0.02)


def test_a_life_far_from_the_prior_is_still_on_the_grid():
    history = history_of([CordLife(Outcome.CONDEMNED, age, last_good=age) for age in 12.0 + np.linspace(-0.6, 0.6, 40)])
    posterior = learn(history)
    mode = optimize.minimize(
        lambda p: -log_likelihood(history.data, WeibullLife(np.exp(p[0]), np.exp(p[1]))), [np.log(12.0), 3.0]
    )
    assert posterior.planning_life.eta == pytest.approx(np.exp(mode.x[0]), rel=0.05)
    assert np.max(posterior.weight) < 0.02


def test_outcomes_are_censored_as_written_and_counted_apart():
    history = history_of(
        [
            CordLife(Outcome.CONDEMNED, 0.9, last_good=0.8),
            CordLife(Outcome.PLANNED, 1.0),
            CordLife(Outcome.FITTED, 0.3, entry=0.2),
            CordLife(Outcome.INCIDENT, 0.1),
            CordLife(Outcome.UNKNOWN, 0.5),
            CordLife(Outcome.PLANNED, 1.0, entry=None),
        ]
    )
    assert history.data.upper.tolist() == [0.9, np.inf, np.inf, np.inf, np.inf]
    assert history.data.lower.tolist() == [0.8, 1.0, 0.3, 0.1, 0.5]
    assert history.data.entry.tolist() == [0.0, 0.0, 0.2, 0.0, 0.0]
    assert [history.counts[outcome] for outcome in Outcome] == [1, 1, 1, 1, 1]
    assert history.left_out == 1


def test_a_cord_found_bad_at_its_first_check_was_good_when_the_book_began():
    data = history_of([CordLife(Outcome.CONDEMNED, 0.9, last_good=0.0, entry=0.6)]).data
    assert (data.lower[0], data.upper[0]) == (0.6, 0.9)


def test_bands_hold_the_median_and_narrow_with_history():
    ages, rng = np.linspace(0.0, 2.0, 9), np.random.default_rng(6)
    little = learn(history_of(simulated_fleet(WeibullLife(2.0, 3.0), 10, rng))).survival_band(ages)
    much = learn(history_of(simulated_fleet(WeibullLife(2.0, 3.0), 800, rng))).survival_band(ages)
    assert np.all(little[0] <= little[1]) and np.all(little[1] <= little[2])
    assert little[:, 0] == pytest.approx([1.0, 1.0, 1.0])
    assert np.all((much[2] - much[0])[1:] < (little[2] - little[0])[1:])


def test_predictive_survival_is_the_average_over_lives_drawn():
    prior = LifePrior()
    drawn = prior.draw(20_000, np.random.default_rng(8))
    expected = np.mean([float(life.survival(1.0)) for life in drawn])
    found = float(learn(history_of([]), prior).predictive_survival(1.0)[0])
    assert found == pytest.approx(expected, abs=3.0 * 0.06 / np.sqrt(20_000))


@pytest.mark.parametrize("setting", [{"b10": 0.0}, {"beta": -1.0}, {"worth_cords": np.nan}])
def test_an_impossible_prior_is_refused(setting):
    with pytest.raises(ValueError, match="must be above 0 and finite; correct the setting"):
        LifePrior(**setting)
