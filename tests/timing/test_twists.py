"""Twists: the formulas against numerical integrals, and the half turns to start from."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from service.timing.phrases import quantities
from service.timing.twists import (
    Cord,
    TwistAdvice,
    TwistedLength,
    TwistPlace,
    bench_step_phrase,
    contraction_mean_m,
    contraction_small_m,
    propose,
    retraction,
    shortening_m,
    shortening_of_one_more_turn_m,
    tan_surface_angle,
    turns_for_shortening,
    twist_range_per_inch,
)
from service.timing.vocabulary import Position

LENGTH_M, DIAMETER_M = 1.5, 2.5e-3


def helix_arc_length(radius, length_m, turns):
    """Length of one fibre as the sum of many short chords: no formula for a helix."""
    angle = np.linspace(0.0, 2 * math.pi * turns, 6_001)
    points = np.array([radius * np.cos(angle), radius * np.sin(angle), length_m * angle / angle[-1]])
    return float(np.sum(np.linalg.norm(np.diff(points, axis=1), axis=0)))


def mean_of_fibres(length_m, diameter_m, turns):
    """Mean over the section: each fibre weighted by its ring's area."""
    radii = (np.arange(40) + 0.5) / 40 * diameter_m / 2
    lengths = [helix_arc_length(radius, length_m, turns) for radius in radii]
    return float(np.average(lengths, weights=radii))


@pytest.mark.parametrize("turns", [5, 20, 40, 80])
def test_contraction_against_numerical_arc_length(turns):
    numerical = mean_of_fibres(LENGTH_M, DIAMETER_M, turns) - LENGTH_M
    assert contraction_mean_m(LENGTH_M, DIAMETER_M, turns) == pytest.approx(numerical, rel=1e-3)
    # The small-twist formula drops tan^4: its share is tan^2(a) / 6.
    share = tan_surface_angle(LENGTH_M, DIAMETER_M, turns) ** 2 / 6
    assert contraction_small_m(LENGTH_M, DIAMETER_M, turns) == pytest.approx(numerical, rel=1e-3 + share)


@pytest.mark.parametrize("turns", [8, 20, 40])
def test_one_more_turn_against_numerical_arc_length(turns):
    """Fibres keep their mean length: solve for the length with one turn more."""
    fibre = mean_of_fibres(LENGTH_M, DIAMETER_M, turns)
    after = brentq(
        lambda length: mean_of_fibres(length, DIAMETER_M, turns + 1) - fibre,
        LENGTH_M - 0.01,
        LENGTH_M,
        xtol=1e-8,
    )
    cord = TwistedLength(LENGTH_M, turns, DIAMETER_M)
    numerical = LENGTH_M - after
    assert shortening_m(cord, 1.0) == pytest.approx(numerical, rel=2e-3)
    middle_slope = shortening_of_one_more_turn_m(TwistedLength(LENGTH_M, turns + 0.5, DIAMETER_M))
    assert middle_slope == pytest.approx(numerical, rel=0.02)


@pytest.mark.parametrize("angle_deg", [5.0, 10.0, 20.0, 30.0])
def test_retraction_against_the_mean_over_fibres_of_equal_section(angle_deg):
    """Each fibre's cut through the cord is wider by the secant of its own angle, so fewer lie outside: the mean of
    the secant over equal fibres gives Hearle's retraction, and the mean over radii comes close."""
    tangent = math.tan(math.radians(angle_deg))

    def of_ring(share, power):
        return share * math.cos(math.atan(share * tangent)) ** power

    secant = quad(of_ring, 0, 1, args=(0,))[0] / quad(of_ring, 0, 1, args=(1,))[0]
    assert retraction(math.radians(angle_deg)) == pytest.approx(1 - 1 / secant, rel=1e-9)


def test_retraction_and_contraction_agree_for_small_twist():
    turns = 15
    angle = math.atan(tan_surface_angle(LENGTH_M, DIAMETER_M, turns))
    contraction = contraction_mean_m(LENGTH_M, DIAMETER_M, turns)
    assert retraction(angle) * LENGTH_M == pytest.approx(contraction, rel=0.01)


@given(st.floats(6, 60), st.floats(-4, 8))
def test_turns_and_shortening_invert_each_other(turns, added):
    cord = TwistedLength(LENGTH_M, turns, DIAMETER_M)
    back = turns_for_shortening(cord, shortening_m(cord, added))
    assert back == pytest.approx(added, abs=0.05 + 0.03 * abs(added))


def string(turns, **more):
    return Cord(Position.STRING, TwistedLength(LENGTH_M, turns, DIAMETER_M), **more)


def test_half_turns_worked_by_hand():
    """n 20, L 1.5 m, d 2.5 mm: n'^2 = 400 + 4 L w / (pi d)^2 = 400 + 97.27 for w 1 mm -> +2.30 turns -> 5 halves."""
    proposal = propose(string(20), 1e-3)
    assert (proposal.advice, proposal.half_turns) == (TwistAdvice.TWIST, 5)
    assert proposal.turns_after == 22.5
    assert proposal.expected_shortening_m == pytest.approx(1e-3, rel=0.12)


def test_lets_a_cord_out_by_taking_turns_out():
    proposal = propose(string(20), -1e-3)
    assert proposal.half_turns == -5
    assert proposal.expected_shortening_m < 0


def test_less_than_a_half_turn_is_left():
    assert propose(string(20), 0.05e-3).advice is TwistAdvice.LEAVE


def test_with_few_turns_in_twists_until_the_mark_returns():
    proposal = propose(string(4.5), 1e-3)
    assert (proposal.advice, proposal.half_turns) == (TwistAdvice.UNTIL_MARK_RETURNS, 0)
    assert propose(string(5.0), 1e-3).advice is TwistAdvice.TWIST


def test_beyond_the_spec_range_says_replace():
    allowed = twist_range_per_inch(0.25, 0.75)
    assert propose(string(30, twist_range=allowed), 1e-3).advice is TwistAdvice.TWIST
    proposal = propose(string(40, twist_range=allowed), 4e-3)
    assert proposal.advice is TwistAdvice.REPLACE
    assert "replace, do not twist" in str(proposal.phrase)
    assert propose(string(16, twist_range=allowed), -2e-3).advice is TwistAdvice.REPLACE


def test_more_than_all_turns_out_says_replace():
    assert propose(string(10), -5e-3).advice is TwistAdvice.REPLACE


@given(st.floats(5, 44), st.floats(-3e-3, 8e-3))
def test_never_proposes_beyond_the_range(turns, wanted):
    allowed = twist_range_per_inch(0.25, 0.75)
    proposal = propose(string(turns, twist_range=allowed), wanted)
    per_inch = proposal.turns_after * 0.0254 / LENGTH_M
    if proposal.half_turns > 0:
        assert per_inch <= 0.75
    if proposal.half_turns < 0:
        assert per_inch >= 0.25


def test_yoke_legs_are_both_twisted_alike():
    leg = TwistedLength(0.15, 8, 1.8e-3)
    cable = Cord(Position.UPPER_CABLE, TwistedLength(0.95, 20), yoke_leg=leg)
    proposal = propose(cable, 0.5e-3)
    assert proposal.place is TwistPlace.EACH_YOKE_LEG
    assert proposal.turns_after == 8 + proposal.half_turns / 2
    assert "both alike" in str(proposal.phrase)
    assert shortening_m(leg, proposal.half_turns / 2) == pytest.approx(proposal.expected_shortening_m)


def test_turns_that_nobody_counted_give_no_number():
    proposal = propose(string(0, turns_counted=False), -1e-3)
    assert (proposal.advice, proposal.half_turns) == (TwistAdvice.UNTIL_MARK_RETURNS, 0)
    assert "never counted" in str(proposal.phrase)
    assert "count its turns first" in bench_step_phrase(string(0, turns_counted=False))


def test_a_yoke_of_unknown_legs_names_both_of_them():
    proposal = propose(string(20, has_yoke=True), 1e-3)
    said = str(proposal.phrase)
    assert "at its single end; or, instead, the yoke: both legs alike" in said
    assert " more at its single end shorten it by about " in bench_step_phrase(string(20, has_yoke=True))


def test_a_sixteenth_is_told_in_half_turns_or_that_they_must_not_be_put_in():
    """n 20, L 1.5 m, d 2.5 mm: n'^2 = 400 + 97.27 x 1.5875 -> +3.54 turns -> 7 halves."""
    turns, step = quantities(bench_step_phrase(string(20)))
    assert (turns.value, step.value) == (7, pytest.approx(0.0254 / 16))
    full = twist_range_per_inch(0.1, 20 * 0.0254 / LENGTH_M)
    assert "replace, do not twist" in bench_step_phrase(string(20, twist_range=full))
    assert "until the mark returns" in bench_step_phrase(string(3))


def test_a_learned_factor_changes_the_turns():
    assert propose(string(20, shortening_factor=2.0), 1e-3).half_turns < propose(string(20), 1e-3).half_turns


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((9.0, 20), "9000 mm is outside 20 to 4000 mm"),
        ((1.5, -1), "-1 turns is outside 0 to 200"),
        ((1.5, 20, 0.02), "20.00 mm is outside 0.5 to 8 mm"),
        ((0.1, 100, 2.5e-3), "over 45 degrees"),
    ],
)
def test_impossible_cords_are_refused_with_the_range(arguments, words):
    with pytest.raises(ValueError, match=words):
        TwistedLength(*arguments)


def test_impossible_twist_range_is_refused():
    with pytest.raises(ValueError, match="turns per inch"):
        twist_range_per_inch(0.8, 0.2)
