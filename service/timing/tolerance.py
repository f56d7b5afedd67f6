"""Inside or outside: as found against the in-service tolerance, as left against the bench's, which is half."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.timing.units import INCH_M, POUND_FORCE_N
from service.timing.vocabulary import LABELS, MeasurementKind

BENCH_SHARE = 0.5
"""Common practice, no source: the bench works to half the in-service tolerance."""
ROUNDING_SI = 1e-9
"""A reading on the very limit is inside, whatever the conversion to metres did to its last digit."""

DEFAULT_TOLERANCES_SI: dict[MeasurementKind, float] = {
    MeasurementKind.AXLE_TO_AXLE: INCH_M / 8,
    MeasurementKind.BRACE_HEIGHT: INCH_M / 8,
    MeasurementKind.HOLE_DISTANCE_UPPER: INCH_M / 16,
    MeasurementKind.HOLE_DISTANCE_LOWER: INCH_M / 16,
    MeasurementKind.TIMING_MARK_UPPER: INCH_M / 16,
    MeasurementKind.TIMING_MARK_LOWER: INCH_M / 16,
    MeasurementKind.NOCKING_HEIGHT: INCH_M / 16,
    MeasurementKind.PEEP_HEIGHT: INCH_M / 16,
    MeasurementKind.STOP_SYNC: INCH_M / 16,
    MeasurementKind.PEAK_WEIGHT: 2 * POUND_FORCE_N,
    MeasurementKind.DRAW_LENGTH: INCH_M / 4,
}
"""In service, plus or minus, m and N. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class ToleranceCheck:
    """One reading against its reference (SI). `too_far_si` is what it stands beyond the bench tolerance, signed
    as the deviation, 0 when inside."""

    kind: MeasurementKind
    reference_si: float
    reading_si: float
    in_service_si: float
    inside_in_service: bool
    inside_bench: bool
    too_far_si: float

    @property
    def deviation_si(self) -> float:
        return self.reading_si - self.reference_si

    @property
    def bench_si(self) -> float:
        return self.in_service_si * BENCH_SHARE


@dataclass(frozen=True, slots=True)
class Reference:
    """A reference measurement and its in-service tolerance, plus or minus (SI)."""

    kind: MeasurementKind
    value_si: float
    tolerance_si: float

    def __post_init__(self) -> None:
        if not self.tolerance_si > 0.0:
            raise ValueError(
                f"{LABELS[self.kind]} has a tolerance of {self.tolerance_si} (SI); it must be above 0: take it "
                "from the spec sheet or the house's default"
            )


def check(reference: Reference, reading_si: float) -> ToleranceCheck:
    """One reading against its reference; on the limit is inside."""
    deviation = reading_si - reference.value_si
    beyond = abs(deviation) - reference.tolerance_si * BENCH_SHARE
    inside_bench = beyond <= ROUNDING_SI
    return ToleranceCheck(
        kind=reference.kind,
        reference_si=reference.value_si,
        reading_si=reading_si,
        in_service_si=reference.tolerance_si,
        inside_in_service=abs(deviation) - reference.tolerance_si <= ROUNDING_SI,
        inside_bench=inside_bench,
        too_far_si=0.0 if inside_bench else (beyond if deviation > 0 else -beyond),
    )


@dataclass(frozen=True, slots=True)
class ToleranceReport:
    """All readings of one moment. `missing` are references with no reading: they do not count as inside."""

    checks: tuple[ToleranceCheck, ...]
    missing: tuple[MeasurementKind, ...]

    @property
    def may_close(self) -> bool:
        """As left: every reference is read and inside the bench tolerance."""
        return not self.missing and not self.still_off

    @property
    def still_off(self) -> tuple[ToleranceCheck, ...]:
        """Outside the bench tolerance, the farthest off first, in tolerances."""
        off = [one for one in self.checks if not one.inside_bench]
        return tuple(sorted(off, key=lambda one: -abs(one.too_far_si) / one.in_service_si))

    @property
    def out_of_service_tolerance(self) -> tuple[ToleranceCheck, ...]:
        return tuple(one for one in self.checks if not one.inside_in_service)


def check_all(references: Sequence[Reference], readings_si: Mapping[MeasurementKind, float]) -> ToleranceReport:
    """Every reference against its reading; readings without a reference are left alone."""
    return ToleranceReport(
        tuple(check(one, readings_si[one.kind]) for one in references if one.kind in readings_si),
        tuple(one.kind for one in references if one.kind not in readings_si),
    )
