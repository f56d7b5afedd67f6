"""Heat of a place: integration, gaps, growth by readings."""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.wear.heat import Gap, GapKind, PlaceHeat
from tests.wear.fleets import ENERGY, HOUR_S, SCALE
from tests.wear.plain import PlainPlace, factor

REFERENCE_K = 296.15


def summer_day(times_s: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """A smooth day: 14 degC before dawn, 34 degC in the afternoon."""
    return 24.0 - 10.0 * np.cos(2.0 * np.pi * (times_s / 86400.0 - 0.17))


def build(times: npt.ArrayLike, celsius: npt.ArrayLike, assumed_c: float = 21.0) -> PlaceHeat:
    return PlaceHeat.from_readings(times, celsius, assumed_c, SCALE)


def test_every_minute_or_every_hour_gives_the_same_heat_on_smooth_weather() -> None:
    week = 7 * 86400.0
    by_hour = np.arange(0.0, week + 1.0, 3600.0)
    by_minute = np.arange(0.0, week + 1.0, 60.0)
    coarse = build(by_hour, summer_day(by_hour)).between(0.0, week)
    fine = build(by_minute, summer_day(by_minute)).between(0.0, week)
    assert coarse == pytest.approx(fine, rel=0.01)
    for day in range(7):  # and not by errors of several days cancelling out
        span = day * 86400.0 + 10 * HOUR_S, day * 86400.0 + 16 * HOUR_S
        assert build(by_hour, summer_day(by_hour)).between(*span) == pytest.approx(
            build(by_minute, summer_day(by_minute)).between(*span), rel=0.01
        )


def test_constant_temperature_is_hours_times_factor() -> None:
    times = np.arange(0.0, 11.0) * HOUR_S
    place = build(times, np.full(11, 40.0))
    assert place.between(0.0, 10 * HOUR_S) == pytest.approx(10.0 * factor(40.0, ENERGY, REFERENCE_K), rel=1e-13)
    assert place.between(0.25 * HOUR_S, 0.75 * HOUR_S) == pytest.approx(0.5 * factor(40.0, ENERGY, REFERENCE_K))


def test_fixed_place() -> None:
    place = PlaceHeat.fixed(23.0, SCALE)
    now = 1.7e9
    assert place.between(now, now + 100 * HOUR_S) == pytest.approx(100.0, rel=1e-9)
    assert place.max_between([now], [now + 1.0])[0] == 23.0
    assert place.gaps(now, now + 1e6) == []
    with pytest.raises(ValueError, match="fixed temperature 23 degC"):
        place.with_readings([now], [20.0])


def test_gaps_are_bridged_at_the_assumed_temperature_and_listed() -> None:
    hours = np.array([0.0, 1.0, 2.0, 6.0, 7.0, 10.0])
    place = build(hours * HOUR_S, np.full(6, 50.0), assumed_c=20.0)
    assert place.between(2 * HOUR_S, 6 * HOUR_S) == pytest.approx(4 * factor(20.0, ENERGY, REFERENCE_K))
    assert place.between(7 * HOUR_S, 10 * HOUR_S) == pytest.approx(3 * factor(50.0, ENERGY, REFERENCE_K))
    assert place.gaps(-5 * HOUR_S, 20 * HOUR_S) == [
        Gap(-5 * HOUR_S, 0.0, GapKind.BEFORE_FIRST, 20.0),
        Gap(2 * HOUR_S, 6 * HOUR_S, GapKind.BETWEEN, 20.0),
        Gap(10 * HOUR_S, 20 * HOUR_S, GapKind.AFTER_LAST, 20.0),
    ]
    assert place.gaps(3 * HOUR_S, 5 * HOUR_S) == [Gap(3 * HOUR_S, 5 * HOUR_S, GapKind.BETWEEN, 20.0)]
    assert place.gaps(0.0, 2 * HOUR_S) == []
    assert place.gaps(0.0, 12 * HOUR_S)[-1].kind is GapKind.BETWEEN  # two hours after the last reading is no gap yet


def test_without_any_reading_all_is_assumed_and_said_so() -> None:
    place = build([], [], assumed_c=30.0)
    assert place.between(0.0, HOUR_S) == pytest.approx(factor(30.0, ENERGY, REFERENCE_K))
    assert place.gaps(0.0, HOUR_S) == [Gap(0.0, HOUR_S, GapKind.NO_READINGS, 30.0)]


def test_highest_temperature_between_readings_and_in_gaps() -> None:
    place = build(np.array([0.0, 1.0, 2.0, 8.0]) * HOUR_S, [10.0, 60.0, 20.0, 25.0], assumed_c=35.0)
    starts = np.array([0.0, 0.0, 1.5, 2.0, 3.0, 9.0, -1.0]) * HOUR_S
    ends = np.array([2.0, 0.5, 2.0, 2.0, 4.0, 9.5, 0.0]) * HOUR_S
    assert place.max_between(starts, ends) == pytest.approx([60.0, 35.0, 40.0, 20.0, 35.0, 35.0, 35.0])


@pytest.mark.parametrize("celsius", [121.0, -61.0, np.nan, 451.0])
def test_impossible_readings_are_refused(celsius: float) -> None:
    with pytest.raises(ValueError, match=r"allowed is -60 to 120 degC; check the unit"):
        build([0.0], [celsius])


def test_unequal_or_missing_instants_are_refused() -> None:
    with pytest.raises(ValueError, match="2 instants but 1 temperatures"):
        build([0.0, 1.0], [20.0])
    with pytest.raises(ValueError, match="epoch seconds"):
        build([np.nan], [20.0])


def test_the_last_of_two_readings_at_one_instant_counts() -> None:
    assert build([0.0, 3600.0, 0.0], [20.0, 20.0, 30.0]).temperature_c.tolist() == [30.0, 20.0]


# Properties. Instants on a grid of ten minutes, so that ties, replacements and gaps all happen.
reading_lists = st.lists(
    st.tuples(st.integers(0, 300).map(lambda step: step * 600.0), st.floats(-20.0, 75.0)),
    min_size=0,
    max_size=30,
)
PROBES = np.arange(-20.0, 330.0, 3.7) * 600.0


def assert_same(one: PlaceHeat, other: PlaceHeat) -> None:
    np.testing.assert_allclose(one.between(0.0, PROBES), other.between(0.0, PROBES), rtol=1e-9, atol=1e-9)
    np.testing.assert_array_equal(one.times_s, other.times_s)
    np.testing.assert_array_equal(one.temperature_c, other.temperature_c)
    np.testing.assert_array_equal(one.max_between(PROBES[:-9], PROBES[9:]), other.max_between(PROBES[:-9], PROBES[9:]))


@given(reading_lists, st.randoms(use_true_random=False))
def test_readings_one_by_one_in_any_order_equal_the_full_build(readings, random) -> None:
    unique = list(dict(readings).items())
    whole = build([t for t, _ in unique], [c for _, c in unique])
    random.shuffle(unique)
    grown = build([], [])
    for time, celsius in unique:
        grown = grown.with_readings([time], [celsius])
    assert_same(grown, whole)


@given(reading_lists, reading_lists, reading_lists)
@settings(max_examples=60)
def test_late_corrected_and_deleted_readings_equal_the_full_build(first, late, deleted) -> None:
    place = build(*_columns(first)).with_readings(*_columns(late))
    place = place.without_readings([t for t, _ in deleted])
    gone = {t for t, _ in deleted}
    left = {t: c for t, c in [*first, *late] if t not in gone}
    assert_same(place, build(*_columns(list(left.items()))))


@given(reading_lists, st.integers(0, 300), st.floats(-20.0, 75.0))
def test_a_reading_changes_heat_only_in_the_stretch_it_names(readings, step, celsius) -> None:
    before = build(*_columns(readings))
    after = before.with_readings([step * 600.0], [celsius])
    low, high = before.touched_by(step * 600.0)
    edges = np.unique(np.concatenate([PROBES, [low, high]]))
    changed = ~np.isclose(
        after.between(edges[:-1], edges[1:]), before.between(edges[:-1], edges[1:]), rtol=1e-9, atol=1e-12
    )
    outside = (edges[1:] <= low) | (edges[:-1] >= high)
    assert not np.any(changed & outside)


@given(reading_lists, st.floats(-1e4, 2e5), st.floats(-1e4, 2e5), st.floats(-1e4, 2e5))
def test_heat_adds_up_and_agrees_with_the_plain_sum(readings, a, b, c) -> None:
    low, middle, high = sorted((a, b, c))
    place = build(*_columns(readings))
    whole = float(place.between(low, high))
    assert float(place.between(low, middle) + place.between(middle, high)) == pytest.approx(whole, rel=1e-9, abs=1e-9)
    plain = PlainPlace(sorted(dict(readings).items()), 21.0)
    assert whole == pytest.approx(plain.heat_h(low, high, ENERGY, REFERENCE_K), rel=1e-9, abs=1e-9)


def _columns(readings: list[tuple[float, float]]) -> tuple[list[float], list[float]]:
    return [t for t, _ in readings], [c for _, c in readings]
