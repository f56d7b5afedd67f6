"""Stretch of a cord since its last reset: settling in with the first shots, then secondary creep with heat.

    eps = eps_s [exp(-N0 / N_s) - exp(-N / N_s)] + k phi (H - H0)

N counts all shots since the cord was new, H hours at the reference temperature under tension; N0 and H0 are their
values at the reset (fitting, or the last time twists brought the measurements back). Creep at a constant rate holds
for the secondary stage; its temperature dependence is the same acceleration factor as in heat.py.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from service.wear.arrays import Floats
from service.wear.coefficients import DEFAULTS, HOURS_PER_MONTH


@dataclass(frozen=True)
class StretchCoefficients:
    """How one kind of cord stretches (defaults: HMPE, labels in coefficients.py)."""

    settle_in_strain: float = DEFAULTS["settle_in_strain"].value
    settle_in_shots_constant: float = DEFAULTS["settle_in_shots_constant"].value
    creep_per_month: float = DEFAULTS["creep_rate"].value
    """Strain (m/m) per month at the reference temperature, for a heat weight of 1."""


def strain_since_reset(
    shots: npt.ArrayLike,
    heat_h: npt.ArrayLike,
    shots_at_reset: npt.ArrayLike,
    heat_h_at_reset: npt.ArrayLike,
    heat_weight: npt.ArrayLike,
    coefficients: StretchCoefficients,
) -> Floats:
    """Strain (m/m) since the reset; arrays that broadcast. Raises ValueError where use is below that at the reset."""
    used, then = np.asarray(shots, dtype=np.float64), np.asarray(shots_at_reset, dtype=np.float64)
    heat, heat_then = np.asarray(heat_h, dtype=np.float64), np.asarray(heat_h_at_reset, dtype=np.float64)
    for what, unit, now, before in (("shots", "shots", used, then), ("heat", "h", heat, heat_then)):
        if np.any(now < before):
            raise ValueError(
                f"{what} {np.min(now - before):g} {unit} since the reset: must be 0 or more; take the values at the "
                "reset from the same record as those now"
            )
    settle = coefficients.settle_in_strain * (
        np.exp(-then / coefficients.settle_in_shots_constant) - np.exp(-used / coefficients.settle_in_shots_constant)
    )
    creep_per_h = coefficients.creep_per_month / HOURS_PER_MONTH * np.asarray(heat_weight, dtype=np.float64)
    return settle + creep_per_h * (heat - heat_then)


def stretch_m(strain: npt.ArrayLike, length_m: npt.ArrayLike) -> Floats:
    """Stretch (m) of cords of the given lengths (m)."""
    length = np.asarray(length_m, dtype=np.float64)
    if not np.all(length > 0.0):
        raise ValueError(f"cord length {np.min(length):g} m: must be above 0 m; take it from the cord's spec")
    return np.asarray(strain, dtype=np.float64) * length


def settle_in_shots_left(shots: npt.ArrayLike, settle_in_shots: float = DEFAULTS["settle_in_shots"].value) -> Floats:
    """Shots until the cord counts as settled in and its timing is checked again; 0 when done."""
    return np.maximum(settle_in_shots - np.asarray(shots, dtype=np.float64), 0.0)
