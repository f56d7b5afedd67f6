"""Acceleration factors against published worked examples. Tolerances are the printed precision."""

import pytest

from service.wear.arrhenius import (
    ELECTRONVOLT_J_PER_MOL,
    GAS_CONSTANT_J_PER_MOL_K,
    acceleration_factor,
    activation_energy_from_factor,
    kelvin,
    q10_factor,
    temperature_from_factor,
)

# NIST/SEMATECH e-Handbook of Statistical Methods 8.1.5.1, "Arrhenius": from 25 to 125 degC. The handbook computes
# with 11605 K per eV (1 / Boltzmann's constant) and 273.16 K for 0 degC.
HANDBOOK_K_PER_EV = 11605.0
HANDBOOK_ZERO_K = 273.16


@pytest.mark.parametrize(("energy_ev", "printed"), [(0.5, 133), (1.0, 17_597)])
def test_nist_handbook_with_its_own_constants(energy_ev: float, printed: int) -> None:
    energy = energy_ev * HANDBOOK_K_PER_EV * GAS_CONSTANT_J_PER_MOL_K
    factor = acceleration_factor(HANDBOOK_ZERO_K + 125.0, energy, HANDBOOK_ZERO_K + 25.0)
    assert factor == pytest.approx(printed, abs=0.5)


@pytest.mark.parametrize(("energy_ev", "printed"), [(0.5, 133), (1.0, 17_597)])
def test_nist_handbook_with_current_constants(energy_ev: float, printed: int) -> None:
    """CODATA's 11604.5 K per eV and 273.15 K move the factor by under 0.2 %."""
    factor = acceleration_factor(kelvin(125.0), energy_ev * ELECTRONVOLT_J_PER_MOL, float(kelvin(25.0)))
    assert factor == pytest.approx(printed, rel=0.002, abs=0.5)


def test_yang_2007_example_7_1() -> None:
    """Yang, Life Cycle Reliability Engineering (2007), example 7.1 (as given in a reliability wiki): 35 to 70 degC."""
    factor = acceleration_factor(kelvin(70.0), 0.323 * ELECTRONVOLT_J_PER_MOL, float(kelvin(35.0)))
    assert factor == pytest.approx(3.46, abs=0.005)


def test_reliability_package_documentation() -> None:
    """Documentation of the `reliability` package, acceleration factor: 60 to 100 degC at 1.2 eV."""
    factor = acceleration_factor(kelvin(100.0), 1.2 * ELECTRONVOLT_J_PER_MOL, float(kelvin(60.0)))
    assert factor == pytest.approx(88.2957, abs=0.0001)


def test_inverses_give_the_published_inputs_back() -> None:
    """The same published rows, read the other way."""
    energy = activation_energy_from_factor(88.2957, float(kelvin(100.0)), float(kelvin(60.0)))
    assert energy / ELECTRONVOLT_J_PER_MOL == pytest.approx(1.2, abs=1e-6)
    hot = temperature_from_factor(88.2957, 1.2 * ELECTRONVOLT_J_PER_MOL, float(kelvin(60.0)))
    assert hot == pytest.approx(float(kelvin(100.0)), abs=1e-4)


@pytest.mark.parametrize(
    ("ambient_c", "printed_factor", "factor_abs", "printed_days", "days_abs"),
    [(25.0, 8.0, 1e-9, 45.6, 0.05), (22.0, 9.849, 0.0005, 37.06, 0.005)],
)
def test_q10_of_astm_f1980(
    ambient_c: float, printed_factor: float, factor_abs: float, printed_days: float, days_abs: float
) -> None:
    """ASTM F1980 accelerated ageing, Q10 = 2 at 55 degC, as worked by a test laboratory: days that stand for a year."""
    factor = float(q10_factor(2.0, kelvin(55.0), float(kelvin(ambient_c))))
    assert factor == pytest.approx(printed_factor, abs=factor_abs)
    assert 365.0 / factor == pytest.approx(printed_days, abs=days_abs)
