"""Is a reading possible at all? A misread rule must not become a twisted cable.

Three tales are weighed against each other by their marginal likelihood, with stretch spread as
`PLAUSIBLE_STRETCH_SD_M` says: every reading as written down; one of them off by an inch; upper and lower
swapped. Another tale must be a hundred times likelier than "as written down" to be told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from service.said import say
from service.timing.phrases import Phrase, length
from service.timing.readings import PLAUSIBLE_STRETCH_SD_M, Reading, ReadingModel
from service.timing.units import INCH_M
from service.timing.vocabulary import MeasurementKind, name_of

TALE_LOG_ODDS = float(np.log(100.0))
"""Assumed: reading twice costs a minute, a wrong twist an hour; about one reading in a hundred is misread."""
TOO_LARGE_STANDARD_DEVIATIONS = 6.0
LIKELY_STANDARD_DEVIATIONS = 3.0
UNMODELLED_PLAUSIBLE_SD_M = 4e-3
"""Assumed: for the lengths that the kinematics do not predict (brace height, tiller, heights, draw length)."""
UPPER_AND_LOWER = (
    (MeasurementKind.HOLE_DISTANCE_UPPER, MeasurementKind.HOLE_DISTANCE_LOWER),
    (MeasurementKind.TIMING_MARK_UPPER, MeasurementKind.TIMING_MARK_LOWER),
)
UNMODELLED_LENGTHS = (
    MeasurementKind.BRACE_HEIGHT,
    MeasurementKind.DRAW_LENGTH,
    MeasurementKind.TILLER,
    MeasurementKind.NOCKING_HEIGHT,
    MeasurementKind.CENTRE_SHOT,
    MeasurementKind.PEEP_HEIGHT,
)


class SuspicionKind(StrEnum):
    OFF_BY_AN_INCH = "off_by_an_inch"
    SWAPPED = "swapped_upper_and_lower"
    TOO_LARGE = "too_large"
    DISAGREES = "disagrees"


@dataclass(frozen=True, slots=True)
class Suspicion:
    """A reading to take again before anything is twisted, and why."""

    what: SuspicionKind
    kinds: tuple[MeasurementKind, ...]
    phrase: Phrase


def suspicious_readings(model: ReadingModel, readings: Sequence[Reading]) -> tuple[Suspicion, ...]:
    """What is implausible about these readings; empty when nothing is. Confirmed readings are believed."""
    by_kind = {reading.kind: reading for reading in readings}
    found = _misread(model, by_kind)
    named = {kind for suspicion in found for kind in suspicion.kinds}
    rest = model.without(tuple(named))
    spread = rest.covariance_expected() + PLAUSIBLE_STRETCH_SD_M**2 * rest.response @ rest.response.T
    for kind, deviation, variance in zip(rest.kinds, rest.deviations_m, np.diag(spread), strict=True):
        if abs(deviation) > TOO_LARGE_STANDARD_DEVIATIONS * np.sqrt(variance) and not by_kind[kind].confirmed:
            found.append(_too_large(by_kind[kind]))
    for kind in UNMODELLED_LENGTHS:
        if kind in by_kind and kind not in model.kinds and not by_kind[kind].confirmed:
            found.extend(_unmodelled(by_kind[kind]))
    return tuple(found)


def _misread(model: ReadingModel, by_kind: dict[MeasurementKind, Reading]) -> list[Suspicion]:
    """The likeliest tales other than "as written down", one after another while each is far likelier."""
    if not model.kinds:
        return []
    spread = model.covariance_expected() + PLAUSIBLE_STRETCH_SD_M**2 * model.response @ model.response.T
    # Of a normal law only the exponent differs from one tale to another.
    weight = np.linalg.inv(spread)
    likely_m = LIKELY_STANDARD_DEVIATIONS * np.sqrt(np.diag(spread))
    deviations = model.deviations_m.copy()
    found: list[Suspicion] = []
    for _ in model.kinds:
        told = _other_tales(model.kinds, deviations, by_kind, found)
        # A tale that leaves its own reading odd explains nothing.
        tales = [
            (suspicion, moved)
            for suspicion, moved in told
            if all(abs(moved[row]) < likely_m[row] for row in _rows(model.kinds, suspicion))
        ]
        if not tales:
            return found
        odds = [_log_odds(weight, moved, deviations) for _suspicion, moved in tales]
        best = int(np.argmax(odds))
        if odds[best] < TALE_LOG_ODDS:
            return found
        found.append(tales[best][0])
        deviations = tales[best][1]
    return found


def _log_odds(weight: np.ndarray, moved: np.ndarray, deviations: np.ndarray) -> float:
    """How much likelier one set of deviations is than another, as a logarithm; `weight`: inverse of the covariance."""
    return 0.5 * float(deviations @ weight @ deviations - moved @ weight @ moved)


def _rows(kinds: tuple[MeasurementKind, ...], suspicion: Suspicion) -> list[int]:
    return [kinds.index(kind) for kind in suspicion.kinds]


def _other_tales(
    kinds: tuple[MeasurementKind, ...],
    deviations: np.ndarray,
    by_kind: dict[MeasurementKind, Reading],
    told: Sequence[Suspicion],
) -> list[tuple[Suspicion, np.ndarray]]:
    taken = {kind for suspicion in told for kind in suspicion.kinds}
    tales = []
    for row, kind in enumerate(kinds):
        if kind in taken or by_kind[kind].confirmed:
            continue
        for inch in (INCH_M, -INCH_M):
            moved = deviations.copy()
            moved[row] -= inch
            tales.append((_off_by_an_inch(by_kind[kind], inch), moved))
    for upper, lower in UPPER_AND_LOWER:
        if upper not in kinds or lower not in kinds or {upper, lower} & taken:
            continue
        if by_kind[upper].confirmed and by_kind[lower].confirmed:
            continue
        moved = deviations.copy()
        moved[kinds.index(upper)] = by_kind[lower].found_si - by_kind[upper].reference_si
        moved[kinds.index(lower)] = by_kind[upper].found_si - by_kind[lower].reference_si
        tales.append((_swapped(by_kind[upper], by_kind[lower]), moved))
    return tales


def _off_by_an_inch(reading: Reading, inch_m: float) -> Suspicion:
    phrase = say(
        "%(name)s reads %(found)s: off by an inch? %(other)s would fit; read it again",
        name=name_of(reading.kind),
        found=length(reading.found_si),
        other=length(reading.found_si - inch_m),
    )
    return Suspicion(SuspicionKind.OFF_BY_AN_INCH, (reading.kind,), phrase)


def _swapped(upper: Reading, lower: Reading) -> Suspicion:
    phrase = say(
        "%(upper)s %(upper_found)s and %(lower)s %(lower_found)s fit the other way round: top and bottom swapped? "
        "Read both again",
        upper=name_of(upper.kind),
        upper_found=length(upper.found_si),
        lower=name_of(lower.kind),
        lower_found=length(lower.found_si),
    )
    return Suspicion(SuspicionKind.SWAPPED, (upper.kind, lower.kind), phrase)


def _too_large(reading: Reading) -> Suspicion:
    phrase = say(
        "%(name)s is %(off)s from its reference %(reference)s, more than stretch explains; read it again, then look "
        "for a cord off its track or a bent part",
        name=name_of(reading.kind),
        off=length(abs(reading.deviation_si)),
        reference=length(reading.reference_si),
    )
    return Suspicion(SuspicionKind.TOO_LARGE, (reading.kind,), phrase)


def _unmodelled(reading: Reading) -> list[Suspicion]:
    limit_m = TOO_LARGE_STANDARD_DEVIATIONS * UNMODELLED_PLAUSIBLE_SD_M
    deviation = reading.deviation_si
    if abs(abs(deviation) - INCH_M) < UNMODELLED_PLAUSIBLE_SD_M:
        return [_off_by_an_inch(reading, INCH_M if deviation > 0 else -INCH_M)]
    return [_too_large(reading)] if abs(deviation) > limit_m else []
