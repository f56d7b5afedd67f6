"""The mean cumulative function against a published example."""

import pytest

from service.wear.recurrence import mean_cumulative_function

# `reliability` package documentation, repairable systems: the last number of each list is the end of observation.
SYSTEMS = [[5, 10, 15, 17], [6, 13, 17, 19], [12, 20, 25, 26], [13, 15, 24], [16, 22, 25, 28]]


@pytest.mark.parametrize(
    ("age", "mean"), [(5, 0.2), (13, 1.2), (17, 2.0), (22, 2.6667), (25, 3.6667), (4.9, 0.0), (28, 3.6667)]
)
def test_repairable_systems_example(age, mean):
    found = mean_cumulative_function([own[:-1] for own in SYSTEMS], [own[-1] for own in SYSTEMS])
    assert found.at(age) == pytest.approx(mean, abs=5e-5)
