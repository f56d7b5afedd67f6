"""Heat as a clock: how much faster a thermally activated process runs than at a reference temperature.

Arrhenius acceleration factor (NIST/SEMATECH e-Handbook of Statistical Methods, 8.1.5.1):

    AF(T) = exp[(Ea / R) (1 / T_ref - 1 / T)]

valid while one process with one activation energy rules, that is away from the fibre's melting (HMPE: 144 to
152 degC). Mean kinetic temperature: USP general chapter <1160>, the constant temperature with the same mean factor.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from service.wear.arrays import Floats

GAS_CONSTANT_J_PER_MOL_K = 8.314462618  # CODATA 2018 (exact since the 2019 SI)
ELECTRONVOLT_J_PER_MOL = 96485.33212  # e x N_A: one eV per particle, CODATA 2018
ZERO_CELSIUS_K = 273.15
Q10_STEP_K = 10.0


def kelvin(temperature_c: npt.ArrayLike) -> Floats:
    """Degrees Celsius to kelvin, any shape."""
    return np.asarray(temperature_c, dtype=np.float64) + ZERO_CELSIUS_K


def acceleration_factor(temperature_k: npt.ArrayLike, activation_energy_j_per_mol: float, reference_k: float) -> Floats:
    """Rate at `temperature_k` divided by the rate at `reference_k` (dimensionless, any shape).

    Raises ValueError for temperatures at or below absolute zero and for a negative activation energy.
    """
    temperature = _positive_kelvin(temperature_k)
    reference = float(_positive_kelvin(reference_k))
    if not activation_energy_j_per_mol >= 0.0:
        raise ValueError(
            f"activation energy {activation_energy_j_per_mol} J/mol: must be 0 J/mol or more; give it in J/mol"
        )
    return np.exp(activation_energy_j_per_mol / GAS_CONSTANT_J_PER_MOL_K * (1.0 / reference - 1.0 / temperature))


def activation_energy_from_factor(factor: float, temperature_k: float, reference_k: float) -> float:
    """The activation energy (J/mol) that makes `temperature_k` run `factor` times as fast as `reference_k`."""
    if not factor > 0.0:
        raise ValueError(f"acceleration factor {factor}: must be above 0; give the ratio of the two rates")
    if temperature_k == reference_k:
        raise ValueError(f"both temperatures are {temperature_k} K: two different ones are needed to find an energy")
    inverse_span = 1.0 / float(_positive_kelvin(reference_k)) - 1.0 / float(_positive_kelvin(temperature_k))
    return GAS_CONSTANT_J_PER_MOL_K * float(np.log(factor)) / inverse_span


def temperature_from_factor(factor: npt.ArrayLike, activation_energy_j_per_mol: float, reference_k: float) -> Floats:
    """The temperature (K) at which the process runs `factor` times as fast as at `reference_k`."""
    ratio = np.asarray(factor, dtype=np.float64)
    if not np.all(ratio > 0.0):
        raise ValueError(f"acceleration factor {np.min(ratio)}: must be above 0; give the ratio of the two rates")
    if not activation_energy_j_per_mol > 0.0:
        raise ValueError(
            f"activation energy {activation_energy_j_per_mol} J/mol: must be above 0 J/mol, else every temperature "
            "has the same factor"
        )
    return 1.0 / (1.0 / reference_k - GAS_CONSTANT_J_PER_MOL_K / activation_energy_j_per_mol * np.log(ratio))


def mean_kinetic_temperature(
    temperature_k: npt.ArrayLike,
    activation_energy_j_per_mol: float,
    duration: npt.ArrayLike | None = None,
) -> float:
    """The constant temperature (K) with the same mean rate as the given ones (USP <1160>).

    `duration` weighs each temperature (any unit, same length); without it all count alike. Computed against the
    highest temperature, so that no factor overflows.
    """
    temperature = np.atleast_1d(_positive_kelvin(temperature_k))
    if temperature.size == 0:
        raise ValueError("no temperatures: give at least one, in kelvin")
    weight = np.ones_like(temperature) if duration is None else np.asarray(duration, dtype=np.float64)
    if weight.shape != temperature.shape or np.any(weight < 0.0) or not np.sum(weight) > 0.0:
        raise ValueError(
            f"durations of shape {weight.shape} for {temperature.size} temperatures: give one per temperature, "
            "none negative, not all 0"
        )
    hottest = float(np.max(temperature))
    mean_factor = float(
        np.average(acceleration_factor(temperature, activation_energy_j_per_mol, hottest), weights=weight)
    )
    return float(temperature_from_factor(mean_factor, activation_energy_j_per_mol, hottest))


def q10_factor(q10: float, temperature_k: npt.ArrayLike, reference_k: float) -> Floats:
    """Acceleration by the rule "`q10` times as fast per 10 K" (the accelerated-ageing factor of ASTM F1980)."""
    if not q10 > 0.0:
        raise ValueError(f"Q10 {q10}: must be above 0; 2 is the usual conservative choice")
    return np.power(q10, (_positive_kelvin(temperature_k) - reference_k) / Q10_STEP_K)


def q10_at(temperature_k: float, activation_energy_j_per_mol: float) -> float:
    """How many times faster the process runs 10 K above `temperature_k`: the activation energy in plain words."""
    return float(acceleration_factor(temperature_k + Q10_STEP_K, activation_energy_j_per_mol, temperature_k))


def _positive_kelvin(temperature_k: npt.ArrayLike) -> Floats:
    temperature = np.asarray(temperature_k, dtype=np.float64)
    if not np.all(temperature > 0.0):
        raise ValueError(
            f"temperature {np.min(temperature)} K: must be a number above 0 K; convert degC with + {ZERO_CELSIUS_K}"
        )
    return temperature
