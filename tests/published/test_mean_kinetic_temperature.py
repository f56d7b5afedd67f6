"""Mean kinetic temperature against the convention of USP general chapter <1160>.

The chapter's activation energy is 83.144 kJ/mol with R = 8.3144e-3 kJ/(mol K), so that dH/R is 10,000 K. The chapter
has no row of numbers in our reference list: the check is its formula, written out plainly, on real weather.
"""

import math

import numpy as np
import pytest

from service.wear.arrhenius import GAS_CONSTANT_J_PER_MOL_K, kelvin, mean_kinetic_temperature
from tests.wear.weather import greensboro_year

USP_ENERGY_J_PER_MOL = 83_144.0
USP_ENERGY_OVER_GAS_CONSTANT_K = 10_000.0


def test_convention_is_ten_thousand_kelvin() -> None:
    """Our gas constant is CODATA's 8.31446...; the chapter cuts it off after 8.3144: one unit in its last digit."""
    ratio = USP_ENERGY_J_PER_MOL / GAS_CONSTANT_J_PER_MOL_K
    assert ratio == pytest.approx(USP_ENERGY_OVER_GAS_CONSTANT_K, rel=0.0001 / 8.3144)


def test_formula_of_the_chapter_on_a_real_year() -> None:
    """T_K = (dH/R) / -ln(mean of exp(-dH / (R T))): the chapter's formula with its own rounded constant."""
    _, celsius = greensboro_year()
    ratio = USP_ENERGY_OVER_GAS_CONSTANT_K
    total = sum(math.exp(-ratio / (t + 273.15)) for t in celsius.tolist())
    by_chapter = ratio / -math.log(total / len(celsius))
    ours = mean_kinetic_temperature(kelvin(celsius), USP_ENERGY_J_PER_MOL)
    assert ours == pytest.approx(by_chapter, abs=0.001)
    assert ours > float(np.mean(kelvin(celsius)))
