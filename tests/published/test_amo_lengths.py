"""AMO draw length is true draw + 1 3/4 in: 26 1/4 -> 28. Master string (AMO FP-3) is 3 in shorter than the bow's
marked length: 66 -> 63. Source: AMO standards."""

import pytest

from service.timing.drawboard import amo_draw_length_m, master_string_length_m, true_draw_length_m

INCH_M = 0.0254


def test_amo_draw_length():
    assert amo_draw_length_m(26.25 * INCH_M) / INCH_M == pytest.approx(28.0, abs=1e-9)
    assert true_draw_length_m(28.0 * INCH_M) / INCH_M == pytest.approx(26.25, abs=1e-9)


def test_master_string():
    assert master_string_length_m(66 * INCH_M) / INCH_M == pytest.approx(63.0, abs=1e-9)
