"""Arrhenius helpers: our own edge cases (published rows are in tests/published)."""

import math

import numpy as np
import pytest

from service.wear.arrhenius import (
    acceleration_factor,
    activation_energy_from_factor,
    kelvin,
    mean_kinetic_temperature,
    q10_at,
    q10_factor,
    temperature_from_factor,
)

ENERGY = 118_000.0
REFERENCE_K = 296.15


def test_factor_is_one_at_the_reference_and_rises() -> None:
    factors = acceleration_factor(kelvin([-10.0, 23.0, 45.0]), ENERGY, REFERENCE_K)
    assert factors[1] == pytest.approx(1.0, rel=1e-14)
    assert factors[0] < 0.02
    assert factors[2] > 25.0  # wear-model: 5 h at 45 degC is more than 5 days of rack time


def test_no_energy_means_no_effect_of_temperature() -> None:
    assert acceleration_factor(kelvin(70.0), 0.0, REFERENCE_K) == 1.0


@pytest.mark.parametrize("celsius", [-25.0, 5.0, 60.0])
def test_inverses(celsius: float) -> None:
    factor = float(acceleration_factor(kelvin(celsius), ENERGY, REFERENCE_K))
    assert temperature_from_factor(factor, ENERGY, REFERENCE_K) == pytest.approx(float(kelvin(celsius)), rel=1e-13)
    assert activation_energy_from_factor(factor, float(kelvin(celsius)), REFERENCE_K) == pytest.approx(ENERGY)


def test_mean_kinetic_temperature_weighs_durations() -> None:
    repeated = mean_kinetic_temperature(kelvin([20.0, 20.0, 20.0, 40.0]), ENERGY)
    assert mean_kinetic_temperature(kelvin([20.0, 40.0]), ENERGY, [3.0, 1.0]) == pytest.approx(repeated, rel=1e-14)
    assert float(kelvin(25.0)) < repeated < float(kelvin(40.0))
    assert mean_kinetic_temperature([300.0], ENERGY) == pytest.approx(300.0, rel=1e-14)


def test_mean_kinetic_temperature_gives_the_same_heat() -> None:
    temperatures = kelvin(np.linspace(-20.0, 75.0, 200))
    mean = mean_kinetic_temperature(temperatures, ENERGY)
    expected = np.mean(acceleration_factor(temperatures, ENERGY, REFERENCE_K))
    assert acceleration_factor(mean, ENERGY, REFERENCE_K) == pytest.approx(expected, rel=1e-12)


def test_q10_says_the_energy_in_plain_words() -> None:
    plainly = math.exp(118_000.0 / 8.314462618 * (1 / 296.15 - 1 / 306.15))
    assert q10_at(REFERENCE_K, ENERGY) == pytest.approx(plainly, rel=1e-12)
    assert q10_factor(2.0, 306.15, 296.15) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: acceleration_factor(0.0, ENERGY, REFERENCE_K), "above 0 K"),
        (lambda: acceleration_factor(np.nan, ENERGY, REFERENCE_K), "above 0 K"),
        (lambda: acceleration_factor(300.0, -1.0, REFERENCE_K), "J/mol"),
        (lambda: activation_energy_from_factor(0.0, 310.0, 300.0), "above 0"),
        (lambda: activation_energy_from_factor(2.0, 300.0, 300.0), "two different"),
        (lambda: temperature_from_factor(-1.0, ENERGY, REFERENCE_K), "above 0"),
        (lambda: temperature_from_factor(2.0, 0.0, REFERENCE_K), "J/mol"),
        (lambda: mean_kinetic_temperature([], ENERGY), "at least one"),
        (lambda: mean_kinetic_temperature([300.0, 301.0], ENERGY, [1.0]), "one per temperature"),
        (lambda: q10_factor(0.0, 300.0, 290.0), "above 0"),
    ],
)
def test_refusals_say_what_is_allowed(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call()
