"""Stretch since the last reset."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.wear.coefficients import HOURS_PER_MONTH
from service.wear.stretch import StretchCoefficients, settle_in_shots_left, strain_since_reset, stretch_m

HMPE = StretchCoefficients()


def test_settle_in_by_hand() -> None:
    """60 shots of a new cord: 1 - 1/e of 0.1 %; on a 1.5 m string that is 0.95 mm."""
    strain = strain_since_reset(60.0, 0.0, 0.0, 0.0, 1.0, HMPE)
    assert float(strain) == pytest.approx(0.001 * (1 - math.exp(-1)))
    assert float(stretch_m(strain, 1.5)) == pytest.approx(0.00094818, abs=5e-9)


def test_creep_by_hand() -> None:
    """Settled in, one month at the reference temperature: 0.02 %; polyester's heat weight makes it 0.3 of that."""
    strain = strain_since_reset([1e6, 1e6], HOURS_PER_MONTH, [1e6, 1e6], 0.0, [1.0, 0.3], HMPE)
    np.testing.assert_allclose(strain, [0.0002, 0.00006], rtol=1e-12)


@given(
    st.tuples(*[st.floats(0.0, 5000.0)] * 3).map(sorted),
    st.tuples(*[st.floats(0.0, 1e5)] * 3).map(sorted),
)
def test_stretch_adds_up_over_stretches_of_use(shots, heat) -> None:
    whole = strain_since_reset(shots[2], heat[2], shots[0], heat[0], 1.0, HMPE)
    parts = strain_since_reset(shots[1], heat[1], shots[0], heat[0], 1.0, HMPE) + strain_since_reset(
        shots[2], heat[2], shots[1], heat[1], 1.0, HMPE
    )
    assert float(parts) == pytest.approx(float(whole), rel=1e-9, abs=1e-15)
    assert float(whole) >= 0.0


def test_a_reset_starts_at_zero_and_settling_does_not_start_over() -> None:
    assert float(strain_since_reset(300.0, 50.0, 300.0, 50.0, 1.0, HMPE)) == 0.0
    new = strain_since_reset(60.0, 0.0, 0.0, 0.0, 1.0, HMPE)
    used = strain_since_reset(360.0, 0.0, 300.0, 0.0, 1.0, HMPE)
    assert float(used) < 0.01 * float(new)


def test_settle_in_left() -> None:
    assert settle_in_shots_left([0.0, 40.0, 100.0, 900.0]).tolist() == [100.0, 60.0, 0.0, 0.0]


def test_refusals() -> None:
    with pytest.raises(ValueError, match="shots -10 shots since the reset"):
        strain_since_reset(90.0, 0.0, 100.0, 0.0, 1.0, HMPE)
    with pytest.raises(ValueError, match="heat -5 h since the reset"):
        strain_since_reset(100.0, 0.0, 100.0, 5.0, 1.0, HMPE)
    with pytest.raises(ValueError, match="cord length 0 m"):
        stretch_m(0.001, 0.0)
