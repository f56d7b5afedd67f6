"""A cord's own creep from as left and as found: where its date moves, whether the truth is covered, what breaks a span.

The bench here is simulated: cords creep at a rate that the test knows, a person reads a rule of 1/64 in.
"""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from fleet import record
from fleet.models import Bow, SpecSheet
from fleet.record import ReferenceValue
from service import decide
from service.bow_geometry import geometry_of
from service.explain import account_of
from service.models import CordWear, TimingDrift
from service.timing.kinematics import drift
from service.timing.vocabulary import Position
from service.wear.coefficients import HOURS_PER_MONTH
from tests import personas
from tests.service.creeping import COEFFICIENT, RULE_M, CreepingBow

pytestmark = pytest.mark.django_db

NOW = personas.NOW
RACK_C = 35.0
# Arrhenius at 35 °C against 23 °C with the wear model's 118 kJ/mol.
PER_HOUR = math.exp(118_000.0 / 8.314462618 * (1.0 / 296.15 - 1.0 / 308.15))
DAYS_BETWEEN = 28.0
LAST_DAYS_AGO = 2.0
SPAN_H = DAYS_BETWEEN * 24.0 * PER_HOUR
ARMS_M = {"string_arm": 0.045, "take_up_arm": 0.030, "let_out_arm": 0.015, "hole_travel": 0.020, "mark_radius": 0.040}
ONCE = dict.fromkeys((Position.STRING, Position.UPPER_CABLE, Position.LOWER_CABLE), 1.0)


@pytest.fixture
def shop() -> personas.Shop:
    return personas.shop(indoor_temperature_c=RACK_C)


@pytest.fixture
def sheet(shop: personas.Shop) -> SpecSheet:
    """A make whose arms are all measured."""
    arms = {f"{arm}_{end}_m": value for arm, value in ARMS_M.items() for end in ("upper", "lower")}
    return personas.spec_sheet(shop.owner, "twin", **arms)


def settled(shop: personas.Shop, sheet: SpecSheet, times: dict[Position, float], seed: int, orders: int) -> CreepingBow:
    """A bow whose cords took 900 shots before its references were read, marks too, 28 days before the first order."""
    bow = personas.bare_bow(shop, sheet, f"CR-{seed}")
    first = LAST_DAYS_AGO + DAYS_BETWEEN * orders
    for row in sheet.cords.select_related("cord_spec"):
        personas.fit(shop, bow, personas.cord(shop, row.cord_spec), days_ago=first + 20)
    personas.shoot(shop, bow, 900, days_ago=first + 10)
    read(shop, bow, first)
    rng = np.random.default_rng(seed)
    return CreepingBow(shop, bow, geometry_of(sheet), times, rng, "fine-rule")


def read(shop: personas.Shop, bow: Bow, days_ago: float) -> None:
    """Its references off the board, by the fine rule."""
    record.put_tool(by=shop.owner, code="fine-rule", site=shop.site, kind="rule", resolution=RULE_M)
    marks = [ReferenceValue(f"timing_mark_{end}", 0.03, personas.INCH_M / 16) for end in ("upper", "lower")]
    values = [replace(one, tool_code="fine-rule") for one in personas.reference_values()]
    record.record_reference_set(
        by=shop.technician,
        bow=bow,
        origin="draw_board",
        taken_at=personas.before(days_ago),
        values=[*values, *marks],
        now=NOW,
    )


def work(bow: CreepingBow, orders: int) -> None:
    """Close so many orders, the last two days ago."""
    for n in range(orders):
        bow.close_order(str(n), LAST_DAYS_AGO + DAYS_BETWEEN * (orders - 1 - n), SPAN_H)


def true_days(bow: CreepingBow) -> float:
    """Days from now to the first length leaving its tolerance, reckoned plainly from the true rates."""
    reference = bow.bow.reference_sets.get(current=True)
    tolerance = {one.kind: one.tolerance for one in reference.measurements.all()}
    per_day = drift(bow.geometry, bow.stretch_m(24.0 * PER_HOUR))
    return min(tolerance[kind] / abs(change) for kind, change in per_day.items() if kind in tolerance) - LAST_DAYS_AGO


def wear_at(bow: Bow, position: str) -> CordWear:
    return CordWear.objects.select_related("fitting__cord__spec", "fitting__bow__site").get(
        fitting__bow=bow, fitting__position=position
    )


def first_out(bow: Bow) -> TimingDrift:
    return (
        TimingDrift.objects.filter(bow=bow).exclude(leaves_on=None).order_by("leaves_on").select_related("bow__site")[0]
    )


def test_a_cord_that_creeps_threefold_moves_its_date_to_where_it_should(shop: personas.Shop, sheet: SpecSheet) -> None:
    bow = settled(shop, sheet, {**ONCE, Position.STRING: 3.0}, seed=3, orders=5)
    decide.refresh([bow.bow.pk], NOW)
    wear = wear_at(bow.bow, "string")
    assert (wear.creep_per_month, wear.creep_log_sd, wear.creep_pairs) == (COEFFICIENT, 0.69, 0)
    work(bow, 5)
    decide.refresh([bow.bow.pk], NOW)
    wear, cable = wear_at(bow.bow, "string"), wear_at(bow.bow, "upper_cable")
    assert wear.creep_pairs == cable.creep_pairs == 5
    assert wear.creep_per_month == pytest.approx(3.0 * COEFFICIENT, rel=0.2)
    assert cable.creep_per_month == pytest.approx(COEFFICIENT, rel=0.35)
    assert wear.creep_log_sd < 0.25
    out = first_out(bow.bow)
    ahead = true_days(bow)
    assert (out.leaves_on - NOW.date()).days == pytest.approx(ahead, abs=max(7.0, 0.2 * ahead))
    assert out.leaves_from <= NOW.date() + timedelta(days=math.ceil(ahead / 7) * 7) <= out.leaves_until
    assert out.assumed == []
    assert "creep_rate" not in wear.assumed


def test_untaught_the_same_cord_would_be_dated_far_too_late(shop: personas.Shop, sheet: SpecSheet) -> None:
    """With the coefficient alone: what the learning is worth."""
    taught = settled(shop, sheet, {**ONCE, Position.STRING: 3.0}, seed=4, orders=5)
    work(taught, 5)
    untaught = settled(shop, sheet, ONCE, seed=5, orders=5)
    for fitting in untaught.bow.fittings.all():
        record.reset_cord(by=shop.technician, fitting=fitting, at=personas.before(LAST_DAYS_AGO))
    decide.refresh([taught.bow.pk, untaught.bow.pk], NOW)
    own, by_coefficient = first_out(taught.bow), first_out(untaught.bow)
    assert (by_coefficient.leaves_on - own.leaves_on).days > 30
    assert by_coefficient.assumed == ["creep_rate"]


def test_the_interval_covers_rates_drawn_from_the_prior(shop: personas.Shop, sheet: SpecSheet) -> None:
    """40 bows, 120 cords, rates drawn from the log-normal prior, three orders each: 90 % within three errors."""
    rng, covered = np.random.default_rng(11), []
    bows = []
    for n in range(40):
        times = {position: float(np.exp(0.69 * rng.standard_normal())) for position in ONCE}
        bows.append(settled(shop, sheet, times, seed=100 + n, orders=3))
        work(bows[-1], 3)
    decide.rebuild(NOW)
    for bow in bows:
        for wear in CordWear.objects.filter(fitting__bow=bow.bow).select_related("fitting"):
            truth = bow.times[Position(wear.fitting.position)] * COEFFICIENT
            reach = 1.6449 * wear.creep_log_sd
            covered.append(abs(math.log(truth / wear.creep_per_month)) <= reach)
    assert len(covered) == 120
    assert np.mean(covered) == pytest.approx(0.9, abs=3.0 * math.sqrt(0.9 * 0.1 / len(covered)))


def test_settling_in_is_not_taken_for_creep(shop: personas.Shop, sheet: SpecSheet) -> None:
    """A cord shot in between two measurements stretches by the settle-in: its creep stays near the coefficient."""
    bow = settled(shop, sheet, ONCE, seed=6, orders=1)
    for fitting in list(bow.bow.fittings.all()):
        record.remove_cord(by=shop.technician, fitting=fitting, at=personas.before(12.0), why="planned", now=NOW)
        personas.fit(shop, bow.bow, personas.cord(shop, fitting.cord.spec), days_ago=12.0)
    bow.close_order("new", 12.0, 0.0)
    personas.shoot(shop, bow.bow, 300, days_ago=11)
    settling_h = 0.001 / COEFFICIENT * HOURS_PER_MONTH
    strain = {position: 0.001 * length for position, length in bow.lengths_m().items()}
    assert bow.stretch_m(settling_h) == pytest.approx(strain)
    bow.close_order("settled", LAST_DAYS_AGO, settling_h + 10.0 * 24.0 * PER_HOUR)
    decide.refresh([bow.bow.pk], NOW)
    wear = wear_at(bow.bow, "string")
    assert wear.creep_pairs == 1
    assert 0.5 * COEFFICIENT < wear.creep_per_month < 2.0 * COEFFICIENT
    assert wear.creep_log_sd > 0.4


def test_what_the_bench_changed_in_between_is_not_learned_from(shop: personas.Shop, sheet: SpecSheet) -> None:
    bow = settled(shop, sheet, {**ONCE, Position.STRING: 3.0}, seed=7, orders=2)
    string = bow.bow.fittings.get(position="string")
    record.reset_cord(by=shop.technician, fitting=string, at=personas.before(DAYS_BETWEEN * 1.5), half_twists=44)
    work(bow, 2)
    decide.refresh([bow.bow.pk], NOW)
    assert [one.creep_pairs for one in CordWear.objects.filter(fitting__bow=bow.bow)] == [1, 1, 1]


def test_a_misread_rule_teaches_nothing(shop: personas.Shop, sheet: SpecSheet) -> None:
    bow = settled(shop, sheet, ONCE, seed=8, orders=1)
    work(bow, 1)
    result = bow.bow.results.get()
    found = result.measurements.get(kind="axle_to_axle")
    found.as_found += personas.INCH_M
    found.save(update_fields=["as_found"])
    decide.refresh([bow.bow.pk], NOW)
    assert wear_at(bow.bow, "string").creep_pairs == 0


def test_what_was_learned_moves_with_the_cord(shop: personas.Shop, sheet: SpecSheet) -> None:
    bow = settled(shop, sheet, {**ONCE, Position.STRING: 3.0}, seed=9, orders=4)
    work(bow, 4)
    other = personas.bare_bow(shop, sheet, "OTHER")
    string = bow.bow.fittings.get(position="string")
    decide.refresh([bow.bow.pk], NOW)
    learned = wear_at(bow.bow, "string")
    record.remove_cord(by=shop.technician, fitting=string, at=personas.before(2.0), why="planned", now=NOW)
    personas.fit(shop, other, string.cord, days_ago=1.0)
    decide.refresh([bow.bow.pk, other.pk], NOW)
    moved = wear_at(other, "string")
    assert moved.creep_pairs == learned.creep_pairs == 4
    assert moved.creep_per_month == pytest.approx(learned.creep_per_month, rel=1e-9)


def test_the_account_says_what_was_learned_and_from_how_many(shop: personas.Shop, sheet: SpecSheet) -> None:
    bow = settled(shop, sheet, {**ONCE, Position.STRING: 3.0}, seed=3, orders=5)
    decide.refresh([bow.bow.pk], NOW)
    before = " ".join(account_of(wear_at(bow.bow, "string"))[-1].lines)
    assert "0.0200 % a month at 23 °C by the coefficient" in before
    work(bow, 5)
    decide.refresh([bow.bow.pk], NOW)
    after = " ".join(account_of(wear_at(bow.bow, "string"))[-1].lines)
    assert "learned from 5 pairs of as left and as found" in after
