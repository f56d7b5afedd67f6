"""Weighted shots per cord: every entry of its bow, by the share of the entry's interval that the cord was fitted.

The work is done on runs of rows ordered by bow and time: whole entries are summed as one run per cord; only entries
that straddle a fitting, a removal or the ends of the window are looked at one by one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.wear.arrays import (
    Flags,
    Floats,
    Ints,
    arrival_order,
    is_ordered,
    run_members,
    run_search,
    run_sums,
)
from service.wear.life import load_weight
from service.wear.rows import CordRows, ShotRows, picked


@dataclass(frozen=True, eq=False)
class Windows:
    """The part of (since, now] during which each cord was fitted, one row per cord.

    A cord is fitted from `fitted_s` (included) to `removed_s` (not included); events at `now_s` count, events at
    `since_s` belong to the window before. So windows that follow each other add up, zero-length events included.
    """

    start_s: Floats
    end_s: Floats
    includes_start: Flags
    includes_end: Flags
    is_open: Flags
    """False where the cord was not fitted at all in the window."""

    @classmethod
    def of(cls, cords: CordRows, now_s: float, since_s: float) -> Windows:
        if not since_s <= now_s:
            raise ValueError(f"window from {since_s} to {now_s} s: must not end before it begins; swap the two")
        removed = np.where(np.isnan(cords.removed_s), np.inf, cords.removed_s)
        start = np.maximum(cords.fitted_s, since_s)
        end = np.minimum(removed, now_s)
        includes_start = cords.fitted_s > since_s
        includes_end = removed > now_s
        is_open = (end > start) | ((end == start) & includes_start & includes_end)
        return cls(start, end, includes_start, includes_end, is_open)


@dataclass(frozen=True, eq=False)
class _Runs:
    """Which ordered shot rows concern which cord."""

    first: Ints  # entries that begin in the window ...
    last: Ints
    early_cord: Ints  # ... entries begun before it that reach into it ...
    early_row: Ints
    early_share: Floats
    late_cord: Ints  # ... and entries that reach beyond its end, with the share that does
    late_row: Ints
    late_share: Floats


def weighted_shots(cords: CordRows, shots: ShotRows, now_s: float, since_s: float = -np.inf) -> Floats:
    """Shots (weighted for load) that each cord took in (since, now]; prior shots not included.

    Additive over shot rows and over windows that follow each other: the contribution of one new, changed or deleted
    entry is this function of that entry alone, whatever the bow's history. An entry at one instant counts where
    fitted <= instant < removed.
    """
    total = np.zeros(cords.bow.size)
    if shots.bow.size == 0 or cords.bow.size == 0:
        return total
    if not is_ordered(shots.bow, shots.start_s):
        shots = picked(shots, arrival_order(shots.bow, shots.start_s))
    runs = _runs(cords, shots, Windows.of(cords, now_s, since_s))
    weighed = np.isfinite(shots.peak_weight_n)
    if not np.all(weighed):
        total += _summed(np.where(weighed, 0.0, shots.count), runs)
    if np.any(weighed):
        for exponent in np.unique(cords.load_exponent):
            # (w / w_rated)^m = w^m / w_rated^m: the entries are raised once for all cords with this exponent.
            effect = np.where(weighed, shots.count * load_weight(shots.peak_weight_n, 1.0, exponent), 0.0)
            scaled = _summed(effect, runs) / load_weight(cords.rated_peak_weight_n, 1.0, exponent)
            total += np.where(cords.load_exponent == exponent, scaled, 0.0)
    return total


def _summed(effect: Floats, runs: _Runs) -> Floats:
    cords = runs.first.size
    whole = run_sums(effect, runs.first, runs.last)
    early = np.bincount(runs.early_cord, effect[runs.early_row] * runs.early_share, minlength=cords)
    late = np.bincount(runs.late_cord, effect[runs.late_row] * runs.late_share, minlength=cords)
    return whole + early - late


def _runs(cords: CordRows, shots: ShotRows, windows: Windows) -> _Runs:
    bow_first = np.searchsorted(shots.bow, cords.bow, side="left").astype(np.int64)
    bow_last = np.searchsorted(shots.bow, cords.bow, side="right").astype(np.int64)
    first = run_search(shots.start_s, bow_first, bow_last, windows.start_s, ~windows.includes_start)
    last = run_search(shots.start_s, bow_first, bow_last, windows.end_s, windows.includes_end)
    last = np.where(windows.is_open, np.maximum(last, first), first)
    reach_s = _longest_entry(shots, bow_first, bow_last)
    at_or_after = np.zeros(first.size, dtype=np.bool_)
    # Only entries begun within the bow's longest entry before an instant can straddle it.
    early_first = run_search(shots.start_s, bow_first, first, windows.start_s - reach_s, at_or_after)
    early_first = np.where(windows.is_open, early_first, first)
    late_first = run_search(shots.start_s, first, last, windows.end_s - reach_s, at_or_after)

    cord, row = run_members(early_first, first)
    reaches_in = shots.end_s[row] > windows.start_s[cord]
    early_cord, early_row = cord[reaches_in], row[reaches_in]
    inside_s = np.minimum(shots.end_s[early_row], windows.end_s[early_cord]) - windows.start_s[early_cord]
    cord, row = run_members(late_first, last)
    reaches_out = shots.end_s[row] > windows.end_s[cord]
    late_cord, late_row = cord[reaches_out], row[reaches_out]
    outside_s = shots.end_s[late_row] - windows.end_s[late_cord]
    length_s = shots.end_s - shots.start_s if early_row.size + late_row.size else np.empty(0)
    return _Runs(
        first,
        last,
        early_cord,
        early_row,
        inside_s / length_s[early_row],
        late_cord,
        late_row,
        outside_s / length_s[late_row],
    )


def _longest_entry(shots: ShotRows, bow_first: Ints, bow_last: Ints) -> Floats:
    """Longest entry (s) of each cord's bow, worked out once per bow; 0 for a bow without entries."""
    has_rows = bow_last > bow_first
    starts, which = np.unique(bow_first[has_rows], return_inverse=True)
    longest = np.zeros(bow_first.size)
    if starts.size:
        ends = np.searchsorted(shots.bow, shots.bow[starts], side="right").astype(np.int64)
        per_bow = np.maximum.reduceat(
            np.append(shots.end_s - shots.start_s, 0.0), np.column_stack([starts, ends]).ravel()
        )[::2]
        longest[has_rows] = per_bow[which]
    return longest
