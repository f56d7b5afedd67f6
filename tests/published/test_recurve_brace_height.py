"""Recurve brace height by bow length. Source: a trade association's consumer guide."""

import pytest

from service.timing.drawboard import recurve_brace_height_guide

INCH_M = 0.0254


@pytest.mark.parametrize(
    ("bow_in", "least_in", "most_in"),
    [(62, 7.5, 8.5), (64, 7.5, 8.5), (66, 8, 9), (68, 8, 9), (70, 8.75, 9.5), (72, 8.75, 9.5)],
)
def test_guide(bow_in, least_in, most_in):
    guide = recurve_brace_height_guide(bow_in * INCH_M)
    assert guide is not None
    assert guide.least_m / INCH_M == pytest.approx(least_in)
    assert guide.most_m / INCH_M == pytest.approx(most_in)


@pytest.mark.parametrize("bow_in", [58, 65, 69, 74])
def test_no_row_no_range(bow_in):
    assert recurve_brace_height_guide(bow_in * INCH_M) is None
