"""The coefficient table: complete, labelled, guarded."""

import math

import pytest

from service.wear.coefficients import (
    DEFAULTS,
    HOURS_PER_MONTH,
    Coefficient,
    Fibre,
    Label,
    heat_weight,
    validate,
)

# wear-model.md and references.md, read by a person: name, value, unit.
DESIGN = {
    "activation_energy": (118_000.0, "J/mol"),
    "reference_temperature": (296.15, "K"),
    "load_exponent": (8.0, "1"),
    "shelf_fraction": (0.25, "1"),
    "settle_in_strain": (0.001, "m/m"),
    "settle_in_shots_constant": (60.0, "shots"),
    "settle_in_shots": (100.0, "shots"),
    "heat_caution_notice": (60.0, "degC"),
    "heat_caution_inspect": (70.0, "degC"),
    "heat_caution_hold": (80.0, "degC"),
    "max_bridged_gap": (3.0, "h"),
    "cabin_shade_factor": (0.55, "1"),
    "cabin_boot_factor": (0.6, "1"),
    "cabin_cap": (76.0, "degC"),
    "weibull_shape": (3.0, "1"),
    "life_cap": (1.0, "rated lives"),
    "unnoticed_risk": (0.01, "1"),
    "inspection_interval_max": (30.0, "days"),
    "timing_grace": (7.0, "days"),
    "rated_shots_hmpe": (5_000.0, "shots"),
    "rated_shots_polyester": (10_000.0, "shots"),
    "rated_months_rental": (12.0, "months"),
    "rated_months_personal": (24.0, "months"),
}


@pytest.mark.parametrize("name", sorted(DESIGN))
def test_defaults_are_the_designs(name: str) -> None:
    assert (DEFAULTS[name].value, DEFAULTS[name].unit) == DESIGN[name]


def test_heat_weights_per_fibre() -> None:
    assert [heat_weight(fibre).value for fibre in (Fibre.HMPE, Fibre.POLYESTER, Fibre.LCP)] == [
        1.0,
        0.3,
        0.02,
    ]
    assert all(heat_weight(fibre).label is Label.ASSUMED for fibre in Fibre)


def test_creep_rate_is_per_mean_month() -> None:
    assert DEFAULTS["creep_rate"].value == 0.0002
    assert pytest.approx(365.25 * 24 / 12) == HOURS_PER_MONTH


def test_plausible_range_of_the_activation_energy_holds_both_quoted_values() -> None:
    assert validate(DEFAULTS["activation_energy"], 83_144.0) == 83_144.0
    assert validate(DEFAULTS["activation_energy"], 144_700.0) == 144_700.0


def test_every_coefficient_has_unit_source_and_range() -> None:
    for name, entry in DEFAULTS.items():
        assert name == entry.name
        assert entry.unit and entry.source
        assert entry.low <= entry.value <= entry.high


@pytest.mark.parametrize("value", [82.0, 118.0, 146_000.0, math.nan, math.inf])
def test_validate_names_value_range_unit_and_next_step(value: float) -> None:
    with pytest.raises(
        ValueError, match=r"activation_energy .* J/mol: allowed is 83000 to 145000 J/mol; check the unit"
    ):
        validate(DEFAULTS["activation_energy"], value)


def test_own_value_keeps_unit_and_range_and_needs_a_source() -> None:
    own = DEFAULTS["load_exponent"].with_value(10.0, "our test stand", Label.COMMON_PRACTICE)
    assert (own.value, own.unit, own.label, own.source) == (
        10.0,
        "1",
        Label.COMMON_PRACTICE,
        "our test stand",
    )
    with pytest.raises(ValueError, match="say where"):
        DEFAULTS["load_exponent"].with_value(10.0, "  ")
    with pytest.raises(ValueError, match="allowed is 5 to 13"):
        DEFAULTS["load_exponent"].with_value(20.0, "our test stand")


def test_a_table_cannot_hold_an_implausible_default() -> None:
    with pytest.raises(ValueError, match="allowed is 0 to 1"):
        Coefficient("share", 2.0, "1", Label.ASSUMED, "invented for this test", 0.0, 1.0)
