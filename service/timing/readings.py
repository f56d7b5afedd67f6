"""Readings as the bench takes them, and the linear model that they are held against."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from service.timing.geometry import ArmName, BowGeometry, Geometry, Known
from service.timing.kinematics import FloatArray, drift_matrix
from service.timing.units import INCH_M
from service.timing.vocabulary import LABELS, MeasurementKind, Position

DEFAULT_RESOLUTION_M = INCH_M / 32
"""Assumed where the tool's own resolution is not recorded: what the trade reads on a rule."""
REPEATABILITY_IN_DIVISIONS = 0.8
"""Assumed: how well one person reads the same thing twice, in divisions of the tool, as a standard deviation. Held
so that a person who reads to a whole division only is still misled less than once in twenty
(`tests/timing/noise_study.py`)."""
PLAUSIBLE_STRETCH_SD_M = 3e-3
"""Assumed: how far a cord that is fit to shoot may stand from its length, as a standard deviation."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One measurement against its reference (SI). `resolution_si` is the tool's smallest division;
    `confirmed` means read twice: then it is taken as read, however odd."""

    kind: MeasurementKind
    reference_si: float
    found_si: float
    resolution_si: float = DEFAULT_RESOLUTION_M
    confirmed: bool = False

    def __post_init__(self) -> None:
        for name in ("reference_si", "found_si"):
            value = getattr(self, name)
            if not np.isfinite(value):
                raise ValueError(f"{LABELS[self.kind]}: {name[:-3]} is {value}; type the number that was read")
        if not (np.isfinite(self.resolution_si) and self.resolution_si > 0.0):
            raise ValueError(
                f"{LABELS[self.kind]}: resolution is {self.resolution_si} (SI); it must be above 0: give the "
                "smallest division of the tool"
            )

    @property
    def deviation_si(self) -> float:
        return self.found_si - self.reference_si

    @property
    def standard_error_si(self) -> float:
        """Of the deviation: reference and found are each rounded to a division (rectangular, division over the
        root of 12: GUM, JCGM 100:2008, 4.3.7, from memory) and read by a person."""
        single = self.resolution_si * np.hypot(1.0 / np.sqrt(12.0), REPEATABILITY_IN_DIVISIONS)
        return float(np.sqrt(2.0) * single)


@dataclass(frozen=True, slots=True, eq=False)
class ReadingModel:
    """Deviations y = M stretch + errors. m readings, n cords, p arms.

    `response` M (m, n); `reading_covariance` (m, m), m^2; `arm_responses` (p, m, n): change of M when an arm
    moves by one standard error (arms of one name share half of their variance: both cams are of one make).
    """

    kinds: tuple[MeasurementKind, ...]
    positions: tuple[Position, ...]
    deviations_m: FloatArray
    response: FloatArray
    reading_covariance: FloatArray
    arm_responses: FloatArray

    def covariance_at(self, stretch_m: FloatArray) -> FloatArray:
        """Readings and arms together, the arms' share at this stretch (n,)."""
        from_arms = self.arm_responses @ stretch_m
        return self.reading_covariance + from_arms.T @ from_arms

    def covariance_expected(self) -> FloatArray:
        """Readings and arms together, the arms' share at the plausible spread of stretch."""
        spread = np.einsum("pmn,pkn->mk", self.arm_responses, self.arm_responses)
        return self.reading_covariance + PLAUSIBLE_STRETCH_SD_M**2 * spread

    def without(self, kinds: Sequence[MeasurementKind]) -> ReadingModel:
        keep = np.array([kind not in kinds for kind in self.kinds], dtype=bool)
        return ReadingModel(
            tuple(kind for kind in self.kinds if kind not in kinds),
            self.positions,
            self.deviations_m[keep],
            self.response[keep],
            self.reading_covariance[np.ix_(keep, keep)],
            self.arm_responses[:, keep],
        )


def usable_kinds(geometry: Geometry) -> tuple[MeasurementKind, ...]:
    """What a diagnosis may weigh. Stop sync belongs to full draw: it waits until the bow's own ratio is known."""
    kinds = drift_matrix(geometry).kinds
    stops = geometry.stops if isinstance(geometry, BowGeometry) else None
    if stops is not None and stops.full_draw_ratio.is_assumed:
        return tuple(kind for kind in kinds if kind is not MeasurementKind.STOP_SYNC)
    return kinds


def reading_model(geometry: Geometry, readings: Sequence[Reading]) -> ReadingModel:
    """The model of those readings that the kinematics can use. Raises ValueError on a kind read twice."""
    kinds = [reading.kind for reading in readings]
    twice = sorted({LABELS[kind] for kind in kinds if kinds.count(kind) > 1})
    if twice:
        raise ValueError(f"{', '.join(twice)} was given more than once; keep the last reading of each")
    usable = usable_kinds(geometry)
    used = [reading for reading in readings if reading.kind in usable]
    errors = np.array([reading.standard_error_si for reading in used])
    response = drift_matrix(geometry)
    rows = [response.kinds.index(reading.kind) for reading in used]
    return ReadingModel(
        tuple(reading.kind for reading in used),
        response.positions,
        np.array([reading.deviation_si for reading in used]),
        response.matrix[rows],
        np.diag(errors**2) if used else np.zeros((0, 0)),
        _arm_responses(geometry)[:, rows],
    )


@lru_cache(maxsize=256)
def _arm_responses(geometry: Geometry) -> FloatArray:
    matrix = drift_matrix(geometry).matrix
    own: dict[str, FloatArray] = {}
    for name, known in geometry.parameters().items():
        step = max(1e-4 * abs(known.value), 1e-9)
        moved = geometry.with_parameters({name: Known(known.value - step, known.standard_error, known.provenance)})
        own[name] = (matrix - drift_matrix(moved).matrix) / step * known.standard_error
    if not isinstance(geometry, BowGeometry):
        return np.array(list(own.values()))
    responses = [response * np.sqrt(0.5) for response in own.values()]
    for arm in ArmName:
        of_both_cams = [response for name, response in own.items() if name.endswith(f".{arm.value}")]
        if of_both_cams:
            responses.append(np.sum(of_both_cams, axis=0) * np.sqrt(0.5))
    return np.array(responses)
