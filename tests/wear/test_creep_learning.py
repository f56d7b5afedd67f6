"""Learning each cord's creep: quadrature agrees, intervals cover, pairs add up, bad pairs are refused."""

import numpy as np
import pytest
from scipy import integrate, stats

from service.wear.creep_learning import CreepPairs, CreepPrior, learn_creep

PRIOR = CreepPrior()


def pairs(cord, exposure_h, strain, strain_sd) -> CreepPairs:
    return CreepPairs(
        np.asarray(cord, dtype=np.int64),
        *(np.asarray(a, dtype=float) for a in (exposure_h, strain, strain_sd)),
    )


def test_default_rate_is_the_wear_models_0_02_percent_a_month():
    assert PRIOR.median_per_h * 730.5 == pytest.approx(0.0002)


def test_without_pairs_the_prior_speaks():
    rates = learn_creep(pairs([], [], [], []), 2)
    assert rates.median_per_h == pytest.approx([PRIOR.median_per_h] * 2, rel=1e-6)
    assert rates.upper_per_h / rates.median_per_h == pytest.approx([2.0 ** stats.norm.ppf(0.95)] * 2, rel=4e-3)
    assert rates.log_sd == pytest.approx([np.log(2.0)] * 2, rel=1e-3)
    assert rates.pairs.tolist() == [0, 0]


@pytest.mark.parametrize(("times", "sd"), [(0.2, 1e-4), (3.0, 1e-4), (10.0, 3e-5), (30.0, 1e-6), (-2.0, 5e-4)])
def test_posterior_agrees_with_quadrature(times, sd):
    exposure, strain = np.array([900.0, 1400.0]), times * PRIOR.median_per_h * np.array([900.0, 1400.0])
    found = learn_creep(pairs([0, 0], exposure, strain, [sd, sd]), 1)
    log_k = np.linspace(np.log(PRIOR.median_per_h) - 8.0, np.log(PRIOR.median_per_h) + 8.0, 400_001)
    fit = -0.5 * np.sum(((strain[:, None] - exposure[:, None] * np.exp(log_k)) / sd) ** 2, axis=0)
    density = fit + stats.norm.logpdf(log_k, np.log(PRIOR.median_per_h), np.log(2.0))
    cdf = np.append(0.0, integrate.cumulative_trapezoid(np.exp(density - density.max()), log_k))
    ends = np.exp(np.interp(np.array([0.05, 0.5, 0.95]) * cdf[-1], cdf, log_k))
    assert [found.lower_per_h[0], found.median_per_h[0], found.upper_per_h[0]] == pytest.approx(ends, rel=2e-3)


def test_intervals_cover_rates_drawn_from_the_prior():
    rng, cords = np.random.default_rng(5), 4000
    truth = PRIOR.median_per_h * 2.0 ** rng.standard_normal(cords)
    cord = np.repeat(np.arange(cords), 3)
    exposure, sd = rng.uniform(300.0, 2000.0, cord.size), np.full(cord.size, 3e-4)
    rates = learn_creep(pairs(cord, exposure, truth[cord] * exposure + sd * rng.standard_normal(cord.size), sd), cords)
    hit = np.mean((rates.lower_per_h <= truth) & (truth <= rates.upper_per_h))
    assert hit == pytest.approx(0.9, abs=3.0 * np.sqrt(0.9 * 0.1 / cords))


def test_a_cord_that_creeps_shows_it_and_its_neighbour_does_not():
    quick = 8.0 * PRIOR.median_per_h
    rates = learn_creep(pairs([1] * 4, [1000.0] * 4, [quick * 1000.0] * 4, [1e-4] * 4), 2)
    assert rates.lower_per_h[1] > 5.0 * PRIOR.median_per_h
    assert rates.median_per_h[0] == pytest.approx(PRIOR.median_per_h, rel=1e-6)
    assert rates.pairs.tolist() == [0, 4]


def test_order_of_pairs_does_not_matter():
    rng = np.random.default_rng(9)
    cord, exposure, strain = rng.integers(0, 5, 40), rng.uniform(100, 900, 40), rng.normal(2e-4, 1e-4, 40)
    sd, shuffled = np.full(40, 1e-4), rng.permutation(40)
    first = learn_creep(pairs(cord, exposure, strain, sd), 5)
    again = learn_creep(pairs(cord[shuffled], exposure[shuffled], strain[shuffled], sd), 5)
    assert again.median_per_h == pytest.approx(first.median_per_h, rel=1e-9)


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ((0, -1.0, 1e-4, 1e-4), "exposure is -1.0 h; it must be 0 or more"),
        ((0, 10.0, 1e-4, 0.0), "standard error of strain is 0.0"),
        ((0, 10.0, np.nan, 1e-4), "strain is nan"),
    ],
)
def test_impossible_pairs_are_refused(row, message):
    with pytest.raises(ValueError, match=message):
        pairs(*([value] for value in row))


def test_a_pair_of_an_unknown_cord_is_refused():
    with pytest.raises(ValueError, match="indices run from 0 to 1"):
        learn_creep(pairs([2], [10.0], [1e-4], [1e-4]), 2)


@pytest.mark.parametrize("setting", [{"median_per_h": 0.0}, {"spread_factor": 1.0}])
def test_an_impossible_prior_is_refused(setting):
    with pytest.raises(ValueError, match="must be above"):
        CreepPrior(**setting)
