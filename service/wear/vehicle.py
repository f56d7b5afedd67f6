"""Air temperature in a parked vehicle, and what it costs a cord inside it.

Rise above the outside temperature against minutes parked: J. Null, San Jose / San Francisco State University,
"Estimated vehicle interior air temperature v. elapsed time" (printed in whole degF, outside 70 to 95 degF; the rise
does not depend on the outside temperature in that table). Linear between the printed minutes; past one hour the
table's last line. Shade, boot and ceiling are assumed (coefficients.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from service.wear.arrays import SECONDS_PER_HOUR, Flags, Floats
from service.wear.arrhenius import acceleration_factor, kelvin
from service.wear.coefficients import DEFAULTS

KELVIN_PER_FAHRENHEIT = 5.0 / 9.0
SECONDS_PER_MINUTE = 60.0

TABLE_MINUTES: Floats = np.array([0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0])
TABLE_RISE_F: Floats = np.array([0.0, 19.0, 29.0, 34.0, 38.0, 41.0, 43.0])
RISE_PAST_TABLE_F = 45.0

_TABLE_S: Floats = TABLE_MINUTES * SECONDS_PER_MINUTE
_TABLE_RISE_K: Floats = TABLE_RISE_F * KELVIN_PER_FAHRENHEIT
_RISE_PAST_TABLE_K = RISE_PAST_TABLE_F * KELVIN_PER_FAHRENHEIT

# Five Gauss-Legendre nodes integrate the factor over ten minutes to better than 1e-8: the rest is the table's error.
_GAUSS_NODES, _GAUSS_WEIGHTS = np.polynomial.legendre.leggauss(5)


@dataclass(frozen=True)
class CabinModel:
    """How a parked vehicle differs from the table's (closed, in the sun, cabin): factors on the rise, and a ceiling."""

    shade_factor: float = DEFAULTS["cabin_shade_factor"].value
    boot_factor: float = DEFAULTS["cabin_boot_factor"].value
    cap_c: float = DEFAULTS["cabin_cap"].value


@dataclass(frozen=True, eq=False)
class Cabins:
    """What is known of n parkings: outside temperature, or the cabin's own where it was measured (nan elsewhere).

    A measured cabin temperature holds for the whole parking and is not capped; it goes before the outside one.
    """

    outside_c: Floats
    cabin_c: Floats
    shade: Flags
    boot: Flags

    def __post_init__(self) -> None:
        unknown = np.isnan(self.outside_c) & np.isnan(self.cabin_c)
        if np.any(unknown):
            raise ValueError(
                f"parking row {int(np.argmax(unknown))}: neither outside nor cabin temperature is known; "
                "record one of them in degC"
            )

    def picked(self, rows: npt.NDArray[np.int64]) -> Cabins:
        """The same facts for the chosen parkings."""
        return Cabins(self.outside_c[rows], self.cabin_c[rows], self.shade[rows], self.boot[rows])


def cabin_temperature_c(cabins: Cabins, parked_s: npt.ArrayLike, model: CabinModel) -> Floats:
    """Cabin air temperature (degC) after `parked_s` seconds, one per parking."""
    elapsed = np.asarray(parked_s, dtype=np.float64)
    rise = np.interp(elapsed, _TABLE_S, _TABLE_RISE_K)
    return _temperature_at_rise(cabins, np.where(elapsed > _TABLE_S[-1], _RISE_PAST_TABLE_K, rise), model)


def cabin_heat_h(
    cabins: Cabins,
    parked_s: Floats,
    model: CabinModel,
    activation_energy_j_per_mol: float,
    reference_k: float,
) -> Floats:
    """Hours at the reference temperature that the first `parked_s` seconds of each parking are worth.

    Cumulative from the moment of parking, so that the heat between two moments is an exact difference.
    """

    def factor(rise_k: Floats) -> Floats:
        celsius = _temperature_at_rise(cabins, rise_k, model)
        return acceleration_factor(kelvin(celsius), activation_energy_j_per_mol, reference_k)

    total_s = np.maximum(parked_s - _TABLE_S[-1], 0.0) * factor(np.full(parked_s.shape, _RISE_PAST_TABLE_K))
    for start_s, end_s in pairwise(_TABLE_S):
        half = np.clip(parked_s - start_s, 0.0, end_s - start_s) / 2.0
        if not np.any(half > 0.0):
            break
        for node, weight in zip(_GAUSS_NODES, _GAUSS_WEIGHTS, strict=True):
            moment = start_s + half * (1.0 + node)
            total_s += weight * half * factor(np.interp(moment, _TABLE_S, _TABLE_RISE_K))
    return total_s / SECONDS_PER_HOUR


def _temperature_at_rise(cabins: Cabins, rise_k: Floats, model: CabinModel) -> Floats:
    share = np.where(cabins.shade, model.shade_factor, 1.0) * np.where(cabins.boot, model.boot_factor, 1.0)
    estimate = np.minimum(cabins.outside_c + share * rise_k, model.cap_c)
    return np.where(np.isnan(cabins.cabin_c), estimate, cabins.cabin_c)
