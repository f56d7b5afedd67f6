"""Parked vehicles: invented edge cases (the published table is in tests/published)."""

import numpy as np
import pytest

from service.wear.vehicle import CabinModel, Cabins, cabin_heat_h, cabin_temperature_c
from tests.wear.plain import PlainParking

ENERGY, REFERENCE_K = 118_000.0, 296.15
MODEL = CabinModel()


def cabins(outside: float, cabin: float = np.nan, shade: bool = False, boot: bool = False) -> Cabins:
    return Cabins(np.array([outside]), np.array([cabin]), np.array([shade]), np.array([boot]))


def test_shade_and_boot_shrink_the_rise() -> None:
    sun, shade, boot, both = (
        float(cabin_temperature_c(cabins(30.0, shade=s, boot=b), np.array([7200.0]), MODEL)[0])
        for s, b in ((False, False), (True, False), (False, True), (True, True))
    )
    assert [sun, shade, boot, both] == pytest.approx([55.0, 43.75, 45.0, 38.25])


def test_estimate_is_capped_and_a_measured_cabin_is_not() -> None:
    assert cabin_temperature_c(cabins(60.0), np.array([7200.0]), MODEL)[0] == 76.0
    assert cabin_temperature_c(cabins(60.0, cabin=88.0), np.array([0.0]), MODEL)[0] == 88.0


def test_rises_monotonically_from_the_outside_temperature() -> None:
    minutes = np.arange(0.0, 120.0, 0.5)
    temperatures = np.array([cabin_temperature_c(cabins(20.0), np.array([60.0 * m]), MODEL)[0] for m in minutes])
    assert temperatures[0] == 20.0
    assert np.all(np.diff(temperatures) >= 0.0)


@pytest.mark.parametrize("minutes", [0.0, 3.0, 10.0, 47.5, 60.0, 300.0])
@pytest.mark.parametrize(("shade", "boot"), [(False, False), (True, True)])
def test_heat_agrees_with_numerical_quadrature(minutes: float, shade: bool, boot: bool) -> None:
    ours = cabin_heat_h(cabins(32.0, shade=shade, boot=boot), np.array([minutes * 60.0]), MODEL, ENERGY, REFERENCE_K)
    plain = PlainParking(0.0, minutes * 60.0, 32.0, np.nan, shade, boot)
    assert float(ours[0]) == pytest.approx(plain.heat_h(0.0, minutes * 60.0, ENERGY, REFERENCE_K), rel=1e-7)


def test_an_unknown_parking_is_refused() -> None:
    with pytest.raises(ValueError, match="parking row 0: neither outside nor cabin"):
        cabins(np.nan)
