"""Searches and sums over runs: against the obvious loops."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from service.wear.arrays import (
    arrival_order,
    bow_time_order,
    is_ordered,
    range_maxima,
    run_maxima,
    run_members,
    run_search,
    run_sums,
)

value_lists = st.lists(st.integers(-5, 5).map(float), max_size=20)


@st.composite
def values_with_runs(draw):
    values = draw(value_lists)
    edges = st.integers(0, len(values))
    runs = draw(st.lists(st.tuples(edges, edges).map(sorted), max_size=8))
    first, last = (np.array([run[side] for run in runs], dtype=np.int64) for side in (0, 1))
    return np.array(values), first, last


@given(values_with_runs())
def test_sums_and_maxima_of_runs(case) -> None:
    values, first, last = case
    runs = [values[low:high] for low, high in zip(first, last, strict=True)]
    np.testing.assert_array_equal(run_sums(values, first, last), [run.sum() for run in runs])
    expected = [run.max(initial=-np.inf) for run in runs]
    np.testing.assert_array_equal(run_maxima(values, first, last), expected)
    np.testing.assert_array_equal(range_maxima(values, first, last), expected)


@given(values_with_runs())
def test_members_of_runs(case) -> None:
    _, first, last = case
    run, row = run_members(first, last)
    pairs = [(number, i) for number, (low, high) in enumerate(zip(first, last, strict=True)) for i in range(low, high)]
    assert list(zip(run.tolist(), row.tolist(), strict=True)) == pairs


@given(values_with_runs(), st.data())
def test_search_in_runs(case, data) -> None:
    values, first, last = case
    wanted = [data.draw(st.integers(-6, 6)) for _ in first]
    after_equal = [data.draw(st.booleans()) for _ in first]
    values = np.sort(values)
    found = run_search(values, first, last, np.array(wanted, dtype=float), np.array(after_equal, dtype=bool))
    for low, high, want, after, at in zip(first, last, wanted, after_equal, found, strict=True):
        side = "right" if after else "left"
        assert at == low + np.searchsorted(values[low:high], want, side=side)


@given(st.lists(st.tuples(st.sampled_from([0, 1, 2, 70_000, 5_000_000_000]), st.integers(0, 5)), max_size=20))
def test_order_by_bow_then_time(rows) -> None:
    bow = np.array([row[0] for row in rows], dtype=np.int64)
    time = np.array([row[1] for row in rows], dtype=np.float64)
    expected = sorted(range(len(rows)), key=lambda i: rows[i])
    assert bow_time_order(bow, time).tolist() == expected
    assert arrival_order(bow, time).tolist() == expected
    assert is_ordered(bow, time) == (expected == list(range(len(rows))))
