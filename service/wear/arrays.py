"""Array types, and sums and searches over many short runs of one long array at once.

The fleet's rows live in columns ordered by bow and time, so that a cord's rows are one run `[first, last)` of a
column. The functions here work on all runs together; none of them loops over rows.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

SECONDS_PER_HOUR = 3600.0
HOURS_PER_DAY = 24.0
RADIX_BITS = 16


def is_ordered(bow: Ints, time_s: Floats) -> bool:
    """Whether rows already come by bow and, within a bow, by time."""
    later_bow = bow[1:] > bow[:-1]
    same_bow_no_earlier = (bow[1:] == bow[:-1]) & (time_s[1:] >= time_s[:-1])
    return bool(np.all(later_bow | same_bow_no_earlier))


def bow_time_order(bow: Ints, time_s: Floats) -> Ints:
    """The permutation that orders rows by bow, then time; ties keep their order. For columns made of ordered runs.

    Complex numbers compare by real part, then imaginary part, which gives both keys, exactly, in one stable sort
    that is quick on runs.
    """
    return np.argsort(bow + 1j * time_s, kind="stable")


def arrival_order(bow: Ints, time_s: Floats) -> Ints:
    """The same permutation as `bow_time_order`, quick on rows as they arrive: bows mixed, times about ascending.

    By time first, then by the bow's binary digits, 16 at a time: numpy's stable sort counts 16-bit keys (radix sort).
    """
    order: Ints = np.argsort(time_s, kind="stable")
    for shift in range(0, int(np.max(bow, initial=0)).bit_length(), RADIX_BITS):
        order = order[np.argsort((bow[order] >> shift).astype(np.uint16), kind="stable")]
    return order


def run_search(values: Floats, first: Ints, last: Ints, wanted: Floats, after_equal: Flags) -> Ints:
    """For each run, the first index whose value is `>= wanted` (or `> wanted` where `after_equal`).

    `values` must ascend inside each run `[first, last)`; the answer is `last` where no value qualifies.
    """
    low, high = first.copy(), last.copy()
    if low.size == 0 or values.size == 0:
        return low
    longest = int(np.max(high - low))
    for _ in range(longest.bit_length()):
        middle = (low + high) >> 1
        value = values[np.minimum(middle, values.size - 1)]
        beyond = (low < high) & ((value < wanted) | (after_equal & (value == wanted)))
        low = np.where(beyond, middle + 1, low)
        high = np.where(beyond, high, np.minimum(middle, high))
    return low


def run_sums(values: Floats, first: Ints, last: Ints) -> Floats:
    """Sum of each run `[first, last)`; 0 for an empty run. Runs may overlap and come in any order."""
    return _reduced(np.add, values, first, last, 0.0)


def run_maxima(values: Floats, first: Ints, last: Ints) -> Floats:
    """Largest value of each run `[first, last)`; -inf for an empty run."""
    return _reduced(np.maximum, values, first, last, -np.inf)


def _reduced(operation: np.ufunc, values: Floats, first: Ints, last: Ints, empty: float) -> Floats:
    result = np.full(first.size, empty)
    filled = np.flatnonzero(last > first)
    if filled.size == 0:
        return result
    # reduceat also reduces the stretch between one run's end and the next one's start: ordered runs keep it short.
    filled = filled[np.argsort(first[filled], kind="stable")]
    edges = np.empty(2 * filled.size, dtype=np.int64)
    edges[0::2] = first[filled]
    edges[1::2] = last[filled]
    padded = np.append(values, empty)  # so that a run may end at the very end
    result[filled] = operation.reduceat(padded, edges)[::2]
    return result


def run_members(first: Ints, last: Ints) -> tuple[Ints, Ints]:
    """All (run number, row index) pairs of the runs `[first, last)`, run by run."""
    length = np.maximum(last - first, 0)
    run = np.repeat(np.arange(first.size, dtype=np.int64), length)
    offset = np.arange(run.size, dtype=np.int64) - np.repeat(np.cumsum(length) - length, length)
    return run, first[run] + offset


def range_maxima(values: Floats, first: Ints, last: Ints) -> Floats:
    """Largest value of each run `[first, last)` for many long, overlapping runs; -inf for an empty run.

    Doubling windows: cost (values spanned + runs) x log(longest run), so it does not grow with runs x their length.
    """
    result = np.full(first.size, -np.inf)
    length = last - first
    if not np.any(length > 0):
        return result
    base = int(np.min(first[length > 0]))
    window_max = values[base : int(np.max(last[length > 0]))]
    width = 1
    while window_max.size:
        served = np.flatnonzero((length >= width) & (length < 2 * width))
        if served.size:
            left = window_max[first[served] - base]
            right = window_max[last[served] - width - base]
            result[served] = np.maximum(left, right)
        if not np.any(length >= 2 * width):
            break
        window_max = np.maximum(window_max[:-width], window_max[width:])
        width *= 2
    return result
