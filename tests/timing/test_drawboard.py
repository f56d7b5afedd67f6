"""Draw-board arithmetic: our own edge cases; the published values are in tests/published."""

import pytest

from service.timing.drawboard import (
    amo_draw_length_m,
    holding_share,
    holding_weight_n,
    let_off_percent,
    master_string_length_m,
    stop_sync_m,
)


def test_holding_and_let_off_invert_each_other():
    assert holding_weight_n(300.0, let_off_percent(300.0, 66.0)) == pytest.approx(66.0)
    assert holding_share(300.0, 75.0) == 0.25


def test_stop_sync_is_signed_by_the_stop_that_touches_first():
    assert stop_sync_m(1e-3, upper_touches_first=True) == 1e-3
    assert stop_sync_m(1e-3, upper_touches_first=False) == -1e-3


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: let_off_percent(60.0, 70.0), "may be swapped"),
        (lambda: let_off_percent(0.0, 0.0), "must be above 0 N"),
        (lambda: holding_weight_n(300.0, 120.0), "outside 0 to 100 %"),
        (lambda: amo_draw_length_m(26.25), "outside 11.8 to 39.4 in"),
        (lambda: master_string_length_m(66.0), "outside 35.4 to 78.7 in"),
        (lambda: stop_sync_m(-1e-3, True), "cannot be negative"),
    ],
)
def test_impossible_values_are_refused_with_the_range(call, words):
    with pytest.raises(ValueError, match=words):
        call()
