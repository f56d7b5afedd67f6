"""Life used: formula, split, reason sentence."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.wear.exposure import exposure
from service.wear.life import LifeUsed, life_shares, load_weight, printed_shares, shots_until
from tests.wear.fleets import DAY_S, cord_rows, fixed_places, fleet_rows, shot_rows


def test_formula_by_hand() -> None:
    """2,900 shots of 5,000; 60 days under tension at 1.8 times the reference rate, 40 days of shelf; a rated year."""
    shares = life_shares(
        weighted_shots=np.array([2900.0]),
        tension_h=np.array([1440.0]),
        shelf_h=np.array([960.0]),
        heat_h=np.array([2592.0]),
        rated_shots=np.array([5000.0]),
        rated_h=np.array([8760.0]),
        heat_weight=np.array([0.3]),
        shelf_fraction=0.25,
    )
    assert shares.shots[0] == pytest.approx(0.58)
    assert shares.time[0] == pytest.approx((1440 + 240) / 8760)
    assert shares.heat[0] == pytest.approx(0.3 * 1152 / 8760)
    assert shares.total[0] == shares.shots[0] + shares.time[0] + shares.heat[0]


def test_a_cold_store_gives_life_back_but_never_more_than_its_time() -> None:
    life = exposure(fleet_rows(), fixed_places(4.0), 365 * DAY_S).life(cord_rows()).row(0)
    assert life.heat < -0.8
    assert 0.0 < life.total < life.time


def test_reason_sentence() -> None:
    assert LifeUsed(0.58, 0.17, 0.11).reason("string") == (
        "string at 0.86 of rated life: shots 0.58, time 0.17, heat 0.11"
    )
    assert LifeUsed(0.1, 0.2, -0.03).reason("buss cable") == (
        "buss cable at 0.27 of rated life: shots 0.10, time 0.20, less 0.03 as it was kept colder than the reference "
        "temperature"
    )
    assert LifeUsed(0.1, 0.2, -0.0).reason("string").endswith("heat 0.00")


@given(st.floats(0.0, 5.0), st.floats(0.0, 5.0), st.floats(-2.0, 50.0))
def test_printed_shares_add_up_as_printed(shots: float, time: float, heat: float) -> None:
    life = LifeUsed(shots, time, heat)
    printed = printed_shares(life)
    assert round(sum(printed), 2) == pytest.approx(life.total, abs=0.00501)
    for share, exact in zip(printed, (shots, time, heat), strict=True):
        assert abs(share - exact) < 0.01 + 1e-9


def test_shots_wear_by_load() -> None:
    """A fifth more peak weight at the assumed exponent of 8 makes one shot count more than four."""
    assert float(load_weight(300.0, 250.0, 8.0)) == pytest.approx(1.2**8)
    shots = shot_rows([(0, 0.0, 0.0, 1000, 300.0)])
    life = exposure(fleet_rows(shots=shots), fixed_places(23.0), 1.0).life(cord_rows())
    assert life.shots[0] == pytest.approx(0.2 * 1.2**8)


def test_shots_until_the_point() -> None:
    assert shots_until(1.0, 0.4, 5000.0) == pytest.approx(3000.0)
    assert shots_until(1.0, 1.2, 5000.0) == 0.0


def test_weights_must_be_above_zero() -> None:
    with pytest.raises(ValueError, match="peak weight 0: must be above 0"):
        load_weight(0.0, 250.0, 8.0)
    with pytest.raises(ValueError, match="rated peak weight -1: must be above 0"):
        load_weight(250.0, -1.0, 8.0)
