"""Life used, by linear damage (Palmgren 1924, Miner 1945), split into what people can follow.

    D = N / N_rated + [A + phi (H - A_tension)] / L_rated,   A = A_tension + shelf_fraction x A_shelf

shots = N / N_rated, time = A / L_rated, heat = phi (H - A_tension) / L_rated (negative in a cold store); D is their
sum. "Rated" is the use by which 10 % of cords are expected to be condemned.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from service.said import Said, figure, say
from service.wear.arrays import Floats

PRINTED_DECIMALS = 2


@dataclass(frozen=True)
class LifeUsed:
    """Shares of rated life used by one cord."""

    shots: float
    time: float
    heat: float

    @property
    def total(self) -> float:
        """Life used D; 1 is rated life."""
        return self.shots + self.time + self.heat

    def reason(self, cord: str) -> Said:
        """`string at 0.86 of rated life: shots 0.58, time 0.17, heat 0.11`; the printed shares add up as printed.

        What a cord was spared by being kept colder than the reference temperature is told as that.
        """
        shots, time, heat = printed_shares(self)
        parts = {
            "cord": cord,
            "total": figure(shots + time + heat, ".2f"),
            "shots": figure(shots, ".2f"),
            "time": figure(time, ".2f"),
        }
        if round(heat, 2) < 0.0:
            return say(
                "%(cord)s at %(total)s of rated life: shots %(shots)s, time %(time)s, less %(spared)s as it was kept "
                "colder than the reference temperature",
                spared=figure(-heat, ".2f"),
                **parts,
            )
        return say(
            "%(cord)s at %(total)s of rated life: shots %(shots)s, time %(time)s, heat %(heat)s",
            heat=figure(abs(heat), ".2f"),
            **parts,
        )


@dataclass(frozen=True, eq=False)
class LifeShares:
    """Shares of rated life used, one row per cord."""

    shots: Floats
    time: Floats
    heat: Floats

    @property
    def total(self) -> Floats:
        """Life used D per cord."""
        return self.shots + self.time + self.heat

    def row(self, cord: int) -> LifeUsed:
        """One cord's shares."""
        return LifeUsed(float(self.shots[cord]), float(self.time[cord]), float(self.heat[cord]))


def load_weight(peak_weight: npt.ArrayLike, rated_peak_weight: npt.ArrayLike, exponent: float) -> Floats:
    """What one shot at `peak_weight` counts, in shots at `rated_peak_weight`: (w / w_rated)^m; any one unit of force.

    nan weights stay nan. Raises ValueError for weights that are not above 0.
    """
    weight = np.asarray(peak_weight, dtype=np.float64)
    rated = np.asarray(rated_peak_weight, dtype=np.float64)
    for name, value in (("peak weight", weight), ("rated peak weight", rated)):
        if np.any(value <= 0.0):
            raise ValueError(f"{name} {np.nanmin(value):g}: must be above 0; measure it on the scale")
    return np.power(weight / rated, exponent)


def life_shares(
    weighted_shots: Floats,
    tension_h: Floats,
    shelf_h: Floats,
    heat_h: Floats,
    rated_shots: Floats,
    rated_h: Floats,
    heat_weight: Floats,
    shelf_fraction: Floats | float,
) -> LifeShares:
    """Shares of rated life from exposure, all arrays of one length (hours, shots).

    `heat_h` is H (hours at the reference temperature) over the tension time only.
    """
    return LifeShares(
        shots=weighted_shots / rated_shots,
        time=(tension_h + shelf_fraction * shelf_h) / rated_h,
        heat=heat_weight * (heat_h - tension_h) / rated_h,
    )


def shots_until(point: float, life_used: float, rated_shots: float) -> float:
    """Shots at the rated peak weight left until life used reaches `point` if nothing but shots wore it; 0 if past."""
    return max(0.0, point - life_used) * rated_shots


def printed_shares(life: LifeUsed) -> tuple[float, float, float]:
    """The shares rounded so that they add up to the rounded total (largest remainder), as people will check them."""
    scale = 10.0**PRINTED_DECIMALS
    exact = np.array([life.shots, life.time, life.heat]) * scale
    rounded = np.floor(exact)
    missing = round(life.total * scale) - int(rounded.sum())
    rounded[np.argsort(rounded - exact, kind="stable")[:missing]] += 1.0
    shots, time, heat = (float(value) / scale for value in rounded)
    return shots, time, heat
