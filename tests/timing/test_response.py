"""Learning arms, shortening and unmodelled slopes from closed orders."""

import numpy as np
import pytest

from service.timing.geometry import Known, Provenance, bow_geometry
from service.timing.kinematics import drift
from service.timing.response import ClosedOrder, learn_response
from service.timing.slopes import ObservedChange, learn_slopes
from service.timing.vocabulary import CamSystem, MeasurementKind, Position

KIND = MeasurementKind
ERROR_M = 0.15e-3


def invented_bow(relative):
    """A twin bow whose arms stand off the assumed ones by these factors."""
    sheet = bow_geometry(CamSystem.TWIN)
    values = sheet.parameters()
    true = {
        name: Known(known.value * relative.get(name, 1.0), 0.0, Provenance.MEASURED) for name, known in values.items()
    }
    return sheet, sheet.with_parameters(true)


def orders_of(true, factors, count, random, error_m=ERROR_M):
    orders = []
    for _ in range(count):
        planned = {position: float(random.uniform(-1e-3, 5e-3)) for position in true.positions}
        changes = drift(true, {position: -factors[position] * value for position, value in planned.items()})
        noisy = {kind: change + random.normal(0, error_m) for kind, change in changes.items()}
        orders.append(ClosedOrder(planned, noisy, dict.fromkeys(noisy, max(error_m, 1e-6))))
    return orders


RELATIVE = {"upper.string": 1.1, "upper.take_up": 0.85, "lower.mark_radius": 1.2, "lower.hole_travel": 0.8}
FACTORS = {Position.STRING: 1.25, Position.UPPER_CABLE: 0.9, Position.LOWER_CABLE: 1.1}


def test_no_orders_leaves_the_prior_and_its_label():
    sheet = bow_geometry(CamSystem.TWIN)
    learned = learn_response(sheet, [])
    assert learned.geometry == sheet
    assert all(value.value == pytest.approx(value.prior) and value.orders == 0 for value in learned.values)
    assert set(learned.shortening_factor.values()) == {1.0}


def test_many_orders_predict_the_bow_that_made_them():
    """The lengths alone leave one common scale of arms and turns open (the prior decides it); the predictions are
    what the bench uses, and they become the true bow's."""
    random = np.random.default_rng(3)
    sheet, true = invented_bow(RELATIVE)
    learned = learn_response(sheet, orders_of(true, FACTORS, 60, random))
    planned = {Position.STRING: 2e-3, Position.UPPER_CABLE: 1e-3}
    truth = drift(true, {position: -FACTORS[position] * value for position, value in planned.items()})
    told = drift(
        learned.geometry,
        {position: -learned.shortening_factor[position] * value for position, value in planned.items()},
    )
    before = drift(sheet, {position: -value for position, value in planned.items()})
    for kind, true_change in truth.items():
        assert told[kind] == pytest.approx(true_change, abs=0.04e-3)
    wrong_before = max(abs(before[kind] - truth[kind]) for kind in truth)
    assert wrong_before > 0.2e-3
    assert learned.orders == 60 and learned.left_out == ()


def test_truth_lies_within_the_posterior_as_often_as_it_says():
    """Coverage over invented bows drawn from the prior: standardised errors are about standard normal."""
    random = np.random.default_rng(8)
    sheet = bow_geometry(CamSystem.TWIN)
    scores = []
    for _ in range(25):
        relative = {name: 1 + 0.1 * random.standard_normal() for name in sheet.parameters()}
        factors = {position: 1 + 0.3 * random.standard_normal() * 0.5 for position in sheet.positions}
        _, true = invented_bow(relative)
        learned = learn_response(sheet, orders_of(true, factors, 6, random))
        for value in learned.values:
            group, name = value.name.split(".", 1)
            truth = factors[Position(name)] if group == "shortening" else value.prior * relative[value.name]
            scores.append((value.value - truth) / value.standard_error)
    inside = np.mean(np.abs(scores) < 2.0)
    assert inside > 0.93


def test_error_shrinks_as_orders_come_in():
    random = np.random.default_rng(4)
    sheet, true = invented_bow(RELATIVE)
    orders = orders_of(true, FACTORS, 30, random)
    few, many = learn_response(sheet, orders[:2]), learn_response(sheet, orders)
    for early, late in zip(few.values, many.values, strict=True):
        assert late.standard_error <= early.standard_error * 1.01


def test_a_new_bow_is_shrunk_toward_its_mates_and_then_follows_its_own_orders():
    random = np.random.default_rng(5)
    sheet, mate = invented_bow({"upper.take_up": 0.85, "lower.take_up": 0.85})
    _, own = invented_bow({"upper.take_up": 0.90, "lower.take_up": 0.90})
    ones = dict.fromkeys(sheet.positions, 1.0)
    mates = orders_of(mate, ones, 40, random)
    unseen = learn_response(sheet, [], mates)
    assert unseen.orders == 0 and unseen.mates_orders == 40
    stretch = {Position.UPPER_CABLE: 3e-3}

    def of(learned):
        scaled = {position: learned.shortening_factor[position] * m for position, m in stretch.items()}
        return drift(learned.geometry, scaled)[KIND.TIMING_MARK_UPPER]

    mate_m, own_m = (drift(bow, stretch)[KIND.TIMING_MARK_UPPER] for bow in (mate, own))
    sheet_m = drift(sheet, stretch)[KIND.TIMING_MARK_UPPER]
    assert abs(of(unseen) - mate_m) < 0.3 * abs(sheet_m - mate_m)
    own_orders = orders_of(own, ones, 40, random)
    assert of(learn_response(sheet, own_orders, mates)) == pytest.approx(own_m, abs=0.1e-3)


def test_what_orders_hardly_taught_stays_assumed():
    """Axle to axle alone speaks to every arm but tells none of them; a mark's radius it does not speak to at all."""
    random = np.random.default_rng(6)
    sheet, true = invented_bow({})
    full = orders_of(true, dict.fromkeys(sheet.positions, 1.0), 5, random)
    assert not learn_response(sheet, full).geometry.assumed_names()
    orders = [
        ClosedOrder(one.shortening_by_position_m, {KIND.AXLE_TO_AXLE: one.change_by_kind_m[KIND.AXLE_TO_AXLE]},
                    {KIND.AXLE_TO_AXLE: ERROR_M})
        for one in full
    ]  # fmt: skip
    learned = learn_response(sheet, orders)
    known, values = learned.geometry.parameters(), {one.name: one for one in learned.values}
    assert set(learned.geometry.assumed_names()) == set(known)
    assert values["upper.mark_radius"].orders == 0 and values["upper.take_up"].orders == 5
    assert known["upper.take_up"].value == values["upper.take_up"].value != values["upper.take_up"].prior


def test_an_order_with_a_misreading_teaches_nothing():
    random = np.random.default_rng(7)
    sheet, true = invented_bow({})
    orders = orders_of(true, dict.fromkeys(sheet.positions, 1.0), 4, random)
    wild = ClosedOrder(
        orders[2].shortening_by_position_m,
        {**orders[2].change_by_kind_m, KIND.AXLE_TO_AXLE: 0.0254},
        orders[2].standard_error_by_kind_m,
    )
    learned = learn_response(sheet, [orders[0], orders[1], wild, orders[3]])
    assert learned.left_out == (2,) and learned.orders == 3
    assert learned.values == learn_response(sheet, [orders[0], orders[1], orders[3]]).values


def test_a_standard_error_is_demanded():
    with pytest.raises(ValueError, match="axle to axle of a closed order has a standard error of None"):
        ClosedOrder({}, {KIND.AXLE_TO_AXLE: 1e-3}, {})


def test_limb_bolt_slope_is_not_known_until_an_order_shows_it():
    assert learn_slopes(["limb_bolt_turns"], []) is None
    unturned = [ObservedChange({"limb_bolt_turns": 0.0}, 1.0, 2.0)]
    assert learn_slopes(["limb_bolt_turns"], unturned) is None


def test_limb_bolt_slope_is_the_weighted_least_squares_of_the_orders():
    """Through zero: sum(x y / e^2) / sum(x^2 / e^2) = (1*-10/4 + 2*-18/1) / (1/4 + 4/1) = -38.5/4.25."""
    orders = [ObservedChange({"turns": 1.0}, -10.0, 2.0), ObservedChange({"turns": 2.0}, -18.0, 1.0)]
    (slope,) = learn_slopes(["turns"], orders)
    assert slope.value == pytest.approx(-38.5 / 4.25)
    assert slope.standard_error == pytest.approx(4.25**-0.5)
    assert (slope.orders, slope.mates_orders) == (2, 0)


def test_slope_of_a_bow_without_orders_is_its_mates_with_a_wider_error():
    mates = [ObservedChange({"turns": 1.0}, -10.0, 0.5)] * 4
    (slope,) = learn_slopes(["turns"], [], mates)
    assert slope.value == pytest.approx(-10.0)
    assert slope.standard_error == pytest.approx(np.hypot(0.25, 2.0))
    (own,) = learn_slopes(["turns"], [ObservedChange({"turns": 1.0}, -7.0, 0.5)] * 20, mates)
    assert own.value == pytest.approx(-7.0, abs=0.1)


def test_two_causes_always_changed_together_are_not_told_apart():
    together = [ObservedChange({"string": 1.0, "cable": 1.0}, 3.0, 0.5)] * 5
    assert learn_slopes(["string", "cable"], together) is None
    apart = [*together, ObservedChange({"string": 1.0}, 1.0, 0.5)]
    string, cable = learn_slopes(["string", "cable"], apart)
    assert (string.value, cable.value) == (pytest.approx(1.0), pytest.approx(2.0))


def test_a_cause_not_asked_for_is_refused():
    with pytest.raises(ValueError, match="cable is not among the causes"):
        learn_slopes(["string"], [ObservedChange({"cable": 1.0}, 1.0, 1.0)])
