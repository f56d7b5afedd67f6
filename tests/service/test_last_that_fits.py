"""Which bows the guests of a day cannot spare: one matching tells what trying each bow by itself tells."""

import numpy as np
import pytest
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from fleet.models import Booking, SpecSheet
from service.planning.bookings import Make, fits_guest, indispensable


def served(guests: list[Booking], makes: list[Make], without: set[int]) -> int:
    """How many guests get a bow at best."""
    there = [make for make in makes for bow in make.bows if bow not in without]
    fits = [[fits_guest(make.hand, make.sheet, guest) for make in there] for guest in guests]
    rows = csr_matrix(np.array(fits, dtype=np.int8).reshape(len(guests), len(there)))
    return int(np.count_nonzero(maximum_bipartite_matching(rows, perm_type="column") >= 0))


def a_day(random: np.random.Generator) -> tuple[list[Booking], list[Make], set[int]]:
    """Some guests and some makes of few bows, so that they are often just enough."""
    makes, number = [], 0
    for _ in range(random.integers(1, 5)):
        low = float(random.integers(100, 160))
        sheet = SpecSheet(
            draw_length_min_m=0.6, draw_length_max_m=0.8, peak_weight_min_n=low, peak_weight_max_n=low + 20.0
        )
        count = int(random.integers(1, 4))
        makes.append(Make(str(random.choice(["left", "right"])), sheet, tuple(range(number, number + count))))
        number += count
    guests = [
        Booking(hand=str(random.choice(["", "left", "right"])), peak_weight_min_n=low, peak_weight_max_n=low + 10.0)
        for low in random.integers(90, 180, random.integers(1, 7)).astype(float).tolist()
    ]
    return guests, makes, {int(bow) for bow in random.choice(number, random.integers(0, 2), replace=False)}


@pytest.mark.parametrize("seed", range(60))
def test_a_bow_is_needed_when_fewer_are_served_without_it(seed: int) -> None:
    guests, makes, taken = a_day(np.random.default_rng(seed))
    best = served(guests, makes, taken)
    bows = {bow for make in makes for bow in make.bows} - taken
    one_by_one = {bow for bow in bows if served(guests, makes, taken | {bow}) < best}
    assert set(indispensable(guests, makes, taken)) == one_by_one


def test_of_many_bows_alike_none_is_needed() -> None:
    sheet = SpecSheet(draw_length_min_m=0.6, draw_length_max_m=0.8, peak_weight_min_n=150.0, peak_weight_max_n=200.0)
    guests = [Booking(hand="right") for _ in range(50)]
    assert indispensable(guests, [Make("right", sheet, tuple(range(10_000)))], set()) == []
    assert indispensable(guests, [Make("right", sheet, tuple(range(50)))], set()) == list(range(50))
    assert indispensable(guests, [], set()) == []
