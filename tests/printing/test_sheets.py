"""The sheet's contents refuse what would print as nonsense."""

import math
from dataclasses import FrozenInstanceError, replace

import pytest

from service.printing.sheets import LifeUsed
from tests.printing.paper_shop import MEASUREMENTS, USUAL, queue


def test_a_sheet_is_frozen():
    with pytest.raises(FrozenInstanceError):
        USUAL.number = "other"


@pytest.mark.parametrize("url", ["", "/orders/7/", "javascript:alert(1)", "orders/7"])
def test_a_code_needs_a_full_address(url):
    with pytest.raises(ValueError, match=r"2025-0412.*http:// or https://"):
        replace(USUAL, url=url)


def test_a_sheet_needs_its_orders_number():
    with pytest.raises(ValueError, match="issue the order"):
        replace(USUAL, number=" ")


@pytest.mark.parametrize("field", ["reference", "tolerance", "bench_tolerance"])
@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_measurement_that_is_no_number_is_named(field, value):
    with pytest.raises(ValueError, match=f"Axle to axle: {value}"):
        replace(MEASUREMENTS[0], **{field: value})


@pytest.mark.parametrize("field", ["tolerance", "bench_tolerance"])
def test_a_tolerance_below_zero_is_named(field):
    with pytest.raises(ValueError, match=r"Axle to axle: tolerance -0\.001"):
        replace(MEASUREMENTS[0], **{field: -0.001})


def test_life_is_the_sum_of_its_shares():
    assert LifeUsed(0.58, 0.17, -0.02).total == pytest.approx(0.73)
    with pytest.raises(ValueError, match="None for a cord of unknown life"):
        LifeUsed(math.nan, 0.1, 0.1)


def test_the_covers_minutes_are_the_sum_of_its_lines():
    assert queue((USUAL, replace(USUAL, number="2", minutes=20))).minutes == 75
