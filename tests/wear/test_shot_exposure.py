"""Shots per cord: which entries count, by what share, and that they add up."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.wear.rows import picked
from service.wear.shot_exposure import weighted_shots
from tests.wear.fleets import cord_rows, shot_rows
from tests.wear.plain import plain_shots

NAN = np.nan


def shots_of(entries, now_s=1e6, since_s=-np.inf, **cord) -> list[float]:
    return weighted_shots(cord_rows(**cord), shot_rows(entries), now_s, since_s).tolist()


def test_an_entry_across_a_fitting_is_shared_by_time() -> None:
    entries = [(0, 0.0, 100.0, 40, NAN)]
    assert shots_of(entries, fitted_s=[0.0, 25.0], removed_s=[25.0, NAN]) == pytest.approx([10.0, 30.0])


def test_an_entry_longer_than_the_cord_was_fitted() -> None:
    assert shots_of([(0, 0.0, 100.0, 40, NAN)], fitted_s=[20.0], removed_s=[70.0]) == pytest.approx([20.0])


def test_an_entry_at_one_instant_goes_to_the_cord_fitted_then() -> None:
    entries = [(0, 25.0, 25.0, 12, NAN)]
    assert shots_of(entries, fitted_s=[0.0, 25.0], removed_s=[25.0, NAN]) == [0.0, 12.0]


def test_an_entry_at_now_goes_to_the_successor_of_a_cord_removed_now() -> None:
    entries = [(0, 25.0, 25.0, 12, NAN)]
    assert shots_of(entries, now_s=25.0, fitted_s=[0.0, 25.0], removed_s=[25.0, NAN]) == [0.0, 12.0]


def test_entries_after_now_do_not_count_and_those_across_it_count_in_part() -> None:
    entries = [
        (0, 0.0, 100.0, 40, NAN),
        (0, 51.0, 51.0, 7, NAN),
        (0, 50.0, 50.0, 3, NAN),
        (0, 60.0, 90.0, 9, NAN),
    ]
    assert shots_of(entries, now_s=50.0) == pytest.approx([23.0])


def test_a_cord_fitted_after_now_has_no_shots() -> None:
    assert shots_of([(0, 0.0, 100.0, 40, NAN)], now_s=50.0, fitted_s=[60.0]) == [0.0]


def test_other_bows_do_not_count() -> None:
    assert shots_of([(1, 0.0, 100.0, 40, NAN), (3, 0.0, 1.0, 5, NAN)], bow=[0, 1, 2]) == [0.0, 40.0, 0.0]


def test_peak_weight_counts_by_the_cords_own_rating_and_exponent() -> None:
    entries = [(0, 0.0, 10.0, 10, 300.0), (0, 20.0, 30.0, 1, NAN)]
    weights = shots_of(entries, rated_peak_weight_n=[250.0, 300.0, 250.0], load_exponent=[8.0, 8.0, 5.0])
    assert weights == pytest.approx([10 * 1.2**8 + 1, 11.0, 10 * 1.2**5 + 1], rel=1e-12)


def test_no_rows_at_all() -> None:
    assert shots_of([]) == [0.0]
    assert weighted_shots(picked(cord_rows(), np.zeros(1, dtype=bool)), shot_rows([]), 1.0).size == 0


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ((0, 10.0, 5.0, 3, NAN), r"ShotRows row 0 \(bow 0\): end_s is 5.0, must be not before start_s"),
        ((0, 0.0, 5.0, -3, NAN), "count is -3.0, must be 0 or more shots"),
        ((0, 0.0, 5.0, NAN, NAN), "count is nan"),
        ((0, 0.0, 5.0, 3, 0.0), "peak_weight_n is 0.0, must be above 0 N"),
    ],
)
def test_wrong_entries_are_refused(entry, words) -> None:
    with pytest.raises(ValueError, match=words):
        shot_rows([entry])


def test_a_window_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="swap the two"):
        shots_of([(0, 0.0, 1.0, 1, NAN)], now_s=0.0, since_s=1.0)


# Properties: whole hours, so that entries often touch fittings, removals and the window's ends.
instants = st.integers(0, 40).map(float)
entry_lists = st.lists(
    st.tuples(
        st.integers(0, 2),
        instants,
        st.integers(0, 12),
        st.integers(0, 90),
        st.sampled_from([NAN, 240.0, 300.0]),
    ),
    max_size=25,
).map(lambda rows: [(bow, start, start + length, count, weight) for bow, start, length, count, weight in rows])
cord_lists = st.lists(
    st.tuples(st.integers(0, 2), instants, st.none() | st.integers(0, 20), st.sampled_from([5.0, 8.0])),
    min_size=1,
    max_size=6,
)


def cords_of(cords):
    return cord_rows(
        bow=[bow for bow, *_ in cords],
        fitted_s=[fitted for _, fitted, _, _ in cords],
        removed_s=[NAN if lasted is None else fitted + lasted for _, fitted, lasted, _ in cords],
        load_exponent=[exponent for *_, exponent in cords],
    )


@given(cord_lists, entry_lists, instants)
def test_agrees_with_the_plain_sum(cords, entries, now) -> None:
    ours = weighted_shots(cords_of(cords), shot_rows(entries), now)
    plain = [
        plain_shots(
            [entry[1:] for entry in entries if entry[0] == bow],
            fitted,
            np.inf if lasted is None else fitted + lasted,
            now,
            250.0,
            exponent,
        )
        for bow, fitted, lasted, exponent in cords
    ]
    np.testing.assert_allclose(ours, plain, rtol=1e-9, atol=1e-9)


@given(cord_lists, entry_lists, instants, st.randoms(use_true_random=False))
def test_order_of_arrival_never_matters(cords, entries, now, random) -> None:
    shuffled = entries.copy()
    random.shuffle(shuffled)
    whole = weighted_shots(cords_of(cords), shot_rows(entries), now)
    np.testing.assert_allclose(weighted_shots(cords_of(cords), shot_rows(shuffled), now), whole, rtol=1e-9, atol=1e-9)


@given(cord_lists, entry_lists, instants, st.data())
def test_one_entry_more_or_less_is_its_own_contribution(cords, entries, now, data) -> None:
    columns = cords_of(cords)
    chosen = np.array([data.draw(st.booleans()) for _ in entries], dtype=bool)
    everything = shot_rows(entries)
    parts = [weighted_shots(columns, picked(everything, part), now) for part in (chosen, ~chosen)]
    np.testing.assert_allclose(sum(parts), weighted_shots(columns, everything, now), rtol=1e-9, atol=1e-9)


@given(cord_lists, entry_lists, instants, instants)
def test_windows_that_follow_each_other_add_up(cords, entries, one, other) -> None:
    columns, shots = cords_of(cords), shot_rows(entries)
    then, now = sorted((one, other))
    advanced = weighted_shots(columns, shots, then) + weighted_shots(columns, shots, now, since_s=then)
    np.testing.assert_allclose(advanced, weighted_shots(columns, shots, now), rtol=1e-9, atol=1e-9)
