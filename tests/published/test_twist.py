"""Retraction of a twisted yarn. Source: Hearle, Grosberg & Backer, Structural Mechanics of Fibers, Yarns, and
Fabrics, 1969, R = (sec a - 1)/(sec a + 1) = tan^2(a/2); from memory, not from the book in hand."""

import math

import pytest

from service.timing.twists import retraction


@pytest.mark.parametrize(("angle_deg", "percent"), [(10, 0.765), (20, 3.109), (30, 7.180)])
def test_retraction_of_hearle(angle_deg, percent):
    assert 100 * retraction(math.radians(angle_deg)) == pytest.approx(percent, abs=0.0005)


@pytest.mark.parametrize("angle_deg", [0, 10, 45])
def test_both_forms_of_the_retraction_agree(angle_deg):
    secant = 1 / math.cos(math.radians(angle_deg))
    assert retraction(math.radians(angle_deg)) == pytest.approx((secant - 1) / (secant + 1), abs=1e-15)
