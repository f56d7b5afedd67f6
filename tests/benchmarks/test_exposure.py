"""The exposure kernel against the same computation in pandas, in one run on one machine: the ratio is what counts."""

import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np
import pytest

from service.wear.exposure import Exposure, exposure
from service.wear.heat import HeatScale, PlaceHeat
from service.wear.rows import picked
from service.wear.shot_exposure import weighted_shots
from tests.benchmarks.big_fleet import (
    ASSUMED_C,
    BOWS,
    CORDS,
    NOW_S,
    PLACES,
    READINGS,
    SHOTS,
    BigFleet,
    big_fleet,
)
from tests.benchmarks.pandas_exposure import pandas_exposure
from tests.wear.fleets import cord_rows, shot_rows

pytestmark = pytest.mark.benchmark

AT_LEAST_TIMES_FASTER = 5.0
SCALE = HeatScale(118_000.0, 296.15)
Result = TypeVar("Result")


@pytest.fixture(scope="module")
def fleet() -> BigFleet:
    return big_fleet()


def best_of(runs: int, work: Callable[[], Result]) -> tuple[float, Result]:
    """Shortest wall time of some runs, and the result: the shortest is the least disturbed by others."""
    shortest = np.inf
    for _ in range(runs):
        begun = time.perf_counter()
        result = work()
        shortest = min(shortest, time.perf_counter() - begun)
    return float(shortest), result


def whole_rebuild(fleet: BigFleet) -> Exposure:
    """Places integrated and all cords' exposure, from bare columns."""
    places = {
        place: PlaceHeat.from_readings(fleet.reading_times_s, fleet.readings_c[place], ASSUMED_C, SCALE)
        for place in range(PLACES)
    }
    return exposure(fleet.rows, {SCALE.activation_energy_j_per_mol: places}, NOW_S)


def test_rebuild_against_pandas(fleet: BigFleet, capsys: pytest.CaptureFixture[str]) -> None:
    kernel_s, ours = best_of(3, lambda: whole_rebuild(fleet))
    pandas_s, theirs = best_of(2, lambda: pandas_exposure(fleet.rows, fleet.reading_times_s, fleet.readings_c, NOW_S))
    for name in ("weighted_shots", "tension_h", "shelf_h", "heat_h"):
        np.testing.assert_allclose(getattr(ours, name), theirs[name].to_numpy(), rtol=1e-9, atol=1e-6, err_msg=name)
    with capsys.disabled():
        print(
            f"\n{BOWS:,} bows, {CORDS:,} cords, {SHOTS:,} shot rows, {PLACES} places x {READINGS:,} readings: "
            f"kernel {kernel_s:.2f} s, pandas {pandas_s:.2f} s, {pandas_s / kernel_s:.1f} times as fast"
        )
    assert pandas_s / kernel_s >= AT_LEAST_TIMES_FASTER


def test_rows_in_order_of_arrival(fleet: BigFleet, capsys: pytest.CaptureFixture[str]) -> None:
    """Rows not ordered by bow and time are sorted by the kernel: what that costs."""
    order = np.argsort(fleet.rows.shots.end_s, kind="stable")
    arrived = picked(fleet.rows.shots, order)
    ordered_s, ours = best_of(3, lambda: weighted_shots(fleet.rows.cords, fleet.rows.shots, NOW_S))
    arrived_s, theirs = best_of(3, lambda: weighted_shots(fleet.rows.cords, arrived, NOW_S))
    np.testing.assert_allclose(theirs, ours, rtol=1e-9, atol=1e-9)
    with capsys.disabled():
        print(f"\n{SHOTS:,} shot rows: ordered by bow {ordered_s:.3f} s, in order of arrival {arrived_s:.3f} s")


def test_one_entry_costs_the_same_after_any_history(capsys: pytest.CaptureFixture[str]) -> None:
    """The kernel's share of "one new entry": its own contribution, whatever came before (1e2, 1e4, 1e6 entries)."""
    cords = cord_rows(bow=[0, 0, 0])
    seconds = []
    for history in (100, 10_000, 1_000_000):
        old = shot_rows([])
        begin = np.arange(history, dtype=np.float64)
        old = type(old)(np.zeros(history, dtype=np.int64), begin, begin + 0.5, np.full(history, 3.0), begin * np.nan)
        new = shot_rows([(0, history - 0.75, history + 1.0, 12, np.nan)])
        before = weighted_shots(cords, old, history + 5.0)
        one_s, more = best_of(200, lambda new=new, history=history: weighted_shots(cords, new, history + 5.0))
        joined = type(old)(*(np.concatenate([getattr(old, n), getattr(new, n)]) for n in old.__dataclass_fields__))
        np.testing.assert_allclose(before + more, weighted_shots(cords, joined, history + 5.0), rtol=1e-9)
        seconds.append(one_s)
    with capsys.disabled():
        print("\none entry after 100 / 10,000 / 1,000,000 others: " + ", ".join(f"{s * 1e6:.0f} us" for s in seconds))
    assert max(seconds) < 3.0 * min(seconds)
