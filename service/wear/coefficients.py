"""Every number of the wear model that is a choice: value, unit, where it comes from, and how far it may be moved.

A manager may override any of them per cord spec; the plausible range is a hard stop against typing errors. The label
says how much the number can be trusted, and is shown wherever a figure rests on it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from service.said import say


class Label(StrEnum):
    """How a coefficient is known."""

    PUBLISHED = "published"
    COMMON_PRACTICE = "common practice"
    OWN_MEASUREMENT = "own measurement"
    ASSUMED = "assumed"


class Fibre(StrEnum):
    """Fibre classes of cords; what the heat weight is chosen by."""

    HMPE = "hmpe"
    HMPE_LCP_BLEND = "hmpe_lcp_blend"
    LCP = "lcp"
    POLYESTER = "polyester"


@dataclass(frozen=True)
class Coefficient:
    """One number of the model: `value` in `unit`, plausible from `low` to `high` (both allowed)."""

    name: str
    value: float
    unit: str
    label: Label
    source: str
    low: float
    high: float

    def __post_init__(self) -> None:
        validate(self, self.value)

    def with_value(self, value: float, source: str, label: Label = Label.ASSUMED) -> Coefficient:
        """The same coefficient with the shop's own value, its source, and the label that the source deserves."""
        if not source.strip():
            raise ValueError(f"{self.name}: say where {value} {self.unit} comes from; a value without source is lost")
        return replace(self, value=value, source=source, label=label)


def validate(coefficient: Coefficient, value: float) -> float:
    """Return `value` if it is plausible for `coefficient`, else raise ValueError naming range, unit and next step."""
    if not (math.isfinite(value) and coefficient.low <= value <= coefficient.high):
        raise ValueError(
            f"{coefficient.name} {value:g} {coefficient.unit}: allowed is {coefficient.low:g} to "
            f"{coefficient.high:g} {coefficient.unit}; check the unit, or keep the default"
        )
    return value


NO_PUBLISHED_VALUE: Final = say("no published value for these cords was found")
_PRACTICE: Final = say("common practice, no source")
_MEMORY_CREEP: Final = say(
    "from memory of the HMPE yarn-creep literature; 83.144 kJ/mol is the mean-kinetic-temperature convention "
    "(USP <1160>), 144.7 kJ/mol = 1.5 eV is O'Connor & Robbins 2020, J. Chem. Phys. 153:144904 (a simulation)"
)

_TABLE: Final = (
    # heat
    Coefficient("activation_energy", 118_000.0, "J/mol", Label.ASSUMED, _MEMORY_CREEP, 83_000.0, 145_000.0),
    Coefficient(
        "reference_temperature",
        296.15,
        "K",
        Label.COMMON_PRACTICE,
        say("23 degC, the usual standard atmosphere of fibre and plastics testing"),
        288.15,
        303.15,
    ),
    Coefficient(
        "heat_weight_hmpe", 1.0, "1", Label.ASSUMED, say("the reference fibre: weight 1 by definition"), 0.0, 1.0
    ),
    Coefficient(
        "heat_weight_hmpe_lcp_blend",
        1.0,
        "1",
        Label.ASSUMED,
        say("%(no_published_value)s; taken as HMPE, its part that creeps most", no_published_value=NO_PUBLISHED_VALUE),
        0.0,
        1.0,
    ),
    Coefficient("heat_weight_polyester", 0.3, "1", Label.ASSUMED, NO_PUBLISHED_VALUE, 0.0, 1.0),
    Coefficient("heat_weight_lcp", 0.02, "1", Label.ASSUMED, NO_PUBLISHED_VALUE, 0.0, 1.0),
    Coefficient(
        "max_bridged_gap",
        3.0,
        "h",
        Label.ASSUMED,
        say("house choice: a longer gap between readings is reported and taken at the place's assumed temperature"),
        0.25,
        12.0,
    ),
    Coefficient("indoor_temperature", 21.0, "degC", Label.ASSUMED, say("house choice where no logger is"), -30.0, 45.0),
    # parked vehicles (the rise itself is the published table in vehicle.py)
    Coefficient("cabin_shade_factor", 0.55, "1", Label.ASSUMED, say("no published factor was found"), 0.1, 1.0),
    Coefficient(
        "cabin_boot_factor", 0.6, "1", Label.ASSUMED, say("no published boot-vs-cabin factor was found"), 0.1, 1.2
    ),
    Coefficient("cabin_cap", 76.0, "degC", Label.ASSUMED, say("ceiling of a cabin estimate; from memory"), 60.0, 90.0),
    # heat cautions
    Coefficient("heat_caution_notice", 60.0, "degC", Label.ASSUMED, say("house choice, far under melting"), 40.0, 75.0),
    Coefficient(
        "heat_caution_inspect", 70.0, "degC", Label.ASSUMED, say("house choice, far under melting"), 50.0, 85.0
    ),
    Coefficient("heat_caution_hold", 80.0, "degC", Label.ASSUMED, say("house choice, far under melting"), 55.0, 100.0),
    # shots and time
    Coefficient(
        "load_exponent", 8.0, "1", Label.ASSUMED, say("no published exponent for these cords was found"), 5.0, 13.0
    ),
    Coefficient(
        "shelf_fraction",
        0.25,
        "1",
        Label.ASSUMED,
        say(
            "unloaded UHMWPE kept at 70 degC for 350 days lost under 10 %% of strength "
            "(Engelbrecht-Wiggans et al. 2023, Polymers 15:1347); the fraction itself is a house choice"
        ),
        0.0,
        1.0,
    ),
    Coefficient("rated_shots_hmpe", 5_000.0, "shots", Label.COMMON_PRACTICE, _PRACTICE, 500.0, 50_000.0),
    Coefficient("rated_shots_polyester", 10_000.0, "shots", Label.COMMON_PRACTICE, _PRACTICE, 500.0, 100_000.0),
    Coefficient("rated_months_personal", 24.0, "months", Label.COMMON_PRACTICE, _PRACTICE, 3.0, 60.0),
    Coefficient("rated_months_rental", 12.0, "months", Label.COMMON_PRACTICE, _PRACTICE, 3.0, 60.0),
    Coefficient("rated_months_polyester", 24.0, "months", Label.COMMON_PRACTICE, _PRACTICE, 3.0, 60.0),
    Coefficient(
        "shot_wear_log_sd",
        0.10,
        "1",
        Label.ASSUMED,
        say("how far rated shots may be off, as a spread of its log"),
        0.0,
        0.5,
    ),
    Coefficient(
        "time_wear_log_sd",
        0.15,
        "1",
        Label.ASSUMED,
        say("how far rated months with heat may be off, as a spread of its log"),
        0.0,
        0.5,
    ),
    Coefficient(
        "creep_log_sd",
        0.69,
        "1",
        Label.ASSUMED,
        say("the creep rate lies within a factor of 2 two times in three"),
        0.05,
        1.5,
    ),
    # stretch
    Coefficient(
        "settle_in_strain",
        0.001,
        "m/m",
        Label.ASSUMED,
        say("0.1 %%; %(no_published_value)s, learned per cord", no_published_value=NO_PUBLISHED_VALUE),
        0.0,
        0.01,
    ),
    Coefficient(
        "settle_in_shots_constant",
        60.0,
        "shots",
        Label.COMMON_PRACTICE,
        say("settling is seen over 50 to 60 shots, in practice 50 to 200"),
        20.0,
        200.0,
    ),
    Coefficient(
        "settle_in_relative_sd",
        1.0,
        "1",
        Label.ASSUMED,
        say(
            "house choice: the assumed settle-in is taken to be wrong by as much again when creep is learned beside it"
        ),
        0.1,
        3.0,
    ),
    Coefficient("settle_in_shots", 100.0, "shots", Label.COMMON_PRACTICE, _PRACTICE, 20.0, 300.0),
    Coefficient(
        "creep_rate",
        0.0002,
        "m/m per month at the reference temperature",
        Label.ASSUMED,
        say(
            "0.02 %% a month for HMPE, times the heat weight for other fibres; "
            "assumed until learned from as-found/as-left"
        ),
        0.0,
        0.005,
    ),
    Coefficient(
        "wax_interval",
        150.0,
        "shots",
        Label.COMMON_PRACTICE,
        say("every 100 to 200 shots; no source"),
        50.0,
        500.0,
    ),
    # replacement and inspection
    Coefficient(
        "weibull_shape",
        3.0,
        "1",
        Label.ASSUMED,
        say("house choice until the shop's history teaches it"),
        0.5,
        10.0,
    ),
    Coefficient(
        "rated_condemned_share",
        0.1,
        "1",
        Label.PUBLISHED,
        say("the meaning of 'rated': B10, the life that 90 %% reach, as rolling-bearing life is defined"),
        0.1,
        0.1,
    ),
    Coefficient(
        "life_cap",
        1.0,
        "rated lives",
        Label.ASSUMED,
        say("house choice: guests' bows stop at rated life"),
        0.3,
        1.5,
    ),
    Coefficient("unnoticed_risk", 0.01, "1", Label.ASSUMED, say("house choice: condemned between checks"), 0.0001, 0.2),
    Coefficient("inspection_interval_max", 30.0, "days", Label.ASSUMED, say("house maximum in rental use"), 1.0, 180.0),
    Coefficient(
        "timing_grace", 7.0, "days", Label.ASSUMED, say("house choice past a predicted timing check"), 0.0, 30.0
    ),
)

DEFAULTS: Final[Mapping[str, Coefficient]] = MappingProxyType({entry.name: entry for entry in _TABLE})
"""The complete default table by name (the names are stable: settings are stored under them)."""

DAYS_PER_MONTH: Final = 365.25 / 12.0  # a month of "rated months" and of the creep rate
HOURS_PER_MONTH: Final = DAYS_PER_MONTH * 24.0


def heat_weight(fibre: Fibre, table: Mapping[str, Coefficient] = DEFAULTS) -> Coefficient:
    """The heat weight (phi) of a fibre class."""
    return table[f"heat_weight_{fibre.value}"]
