"""Mean cumulative function: an independent package, closed forms of the variance, coverage by simulation."""

import numpy as np
import pytest
from reliability.Repairable_systems import MCF_nonparametric

from service.wear.recurrence import mean_cumulative_function


def simulated_bows(seed: int, bows: int, spread: float) -> tuple[list[list[float]], list[float]]:
    """Resets at gamma-distributed rates (mean 1 a month, relative variance `spread`), watched for 3..12 months."""
    rng = np.random.default_rng(seed)
    ends = rng.uniform(3.0, 12.0, bows)
    rates = rng.gamma(1.0 / spread, spread, bows)
    events = [np.sort(rng.uniform(0.0, end, rng.poisson(rate * end))) for rate, end in zip(rates, ends, strict=True)]
    return [own.tolist() for own in events], ends.tolist()


@pytest.mark.parametrize("seed", range(5))
def test_mean_agrees_with_an_independent_package(seed):
    events, ends = simulated_bows(seed, 15, 0.5)
    found = mean_cumulative_function(events, ends)
    theirs = MCF_nonparametric(
        data=[[*own, end] for own, end in zip(events, ends, strict=True)],
        show_plot=False,
        print_results=False,
    )
    assert found.age == pytest.approx(np.asarray(theirs.time, dtype=float))
    assert found.mean == pytest.approx(np.asarray(theirs.MCF, dtype=float))
    # Before any bow has two events, both variances are that of a share of bows.
    assert found.variance[0] == pytest.approx(float(theirs.variance[0]))


def test_with_all_watched_to_the_end_the_variance_is_that_of_the_mean_count():
    events, _ = simulated_bows(3, 40, 0.5)
    found = mean_cumulative_function(events, [12.0] * 40)
    counts = [len(own) for own in events]
    assert found.mean[-1] == pytest.approx(np.mean(counts))
    assert found.variance[-1] == pytest.approx(np.var(counts) / 40)


def test_limits_cover_the_true_mean_although_bows_differ():
    hits = []
    for seed in range(300):
        found = mean_cumulative_function(*simulated_bows(seed, 60, 0.5), level=0.9)
        row = np.searchsorted(found.age, 4.0, side="right") - 1
        hits.append(found.lower[row] <= 4.0 <= found.upper[row])
    assert np.mean(hits) == pytest.approx(0.9, abs=3.0 * np.sqrt(0.9 * 0.1 / 300))


def test_no_events_make_an_empty_curve_of_zero():
    found = mean_cumulative_function([[], []], [5.0, 6.0])
    assert found.age.size == 0
    assert found.at(4.0) == 0.0


@pytest.mark.parametrize(
    ("events", "ends", "message"),
    [
        ([[1.0]], [1.0, 2.0], "give one each"),
        ([[3.0]], [2.0], r"outside 0\.\.2.0"),
        ([[-1.0]], [2.0], "bow 0 has"),
    ],
)
def test_impossible_records_are_refused(events, ends, message):
    with pytest.raises(ValueError, match=message):
        mean_cumulative_function(events, ends)
