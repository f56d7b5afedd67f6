"""Which one measurement would settle what the readings leave open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import combinations

import numpy as np

from service.said import say
from service.timing.estimate import estimate
from service.timing.geometry import MEASURED_ARM_STANDARD_ERROR_M, Geometry, measured
from service.timing.kinematics import drift_matrix
from service.timing.phrases import Phrase, listed
from service.timing.readings import DEFAULT_RESOLUTION_M, Reading, reading_model, usable_kinds
from service.timing.units import INCH_M
from service.timing.vocabulary import MeasurementKind, Position, name_of

MATTERS_M = INCH_M / 16
"""Assumed: a stretch of 1/16 in is worth a turn at the bench."""
TELLS_APART_M = INCH_M / 4
"""Assumed: cords are told apart when a stretch of 1/4 in of one could not be taken for another's."""
CALLIPER_RESOLUTION_M = 0.1e-3


class SettlingHow(StrEnum):
    ALSO_MEASURE = "also_measure"
    READ_FINER = "read_finer"
    MEASURE_ARMS = "measure_arms"


@dataclass(frozen=True, slots=True)
class Settling:
    """What to measure next. `settles` is False when even that leaves the question open."""

    how: SettlingHow
    kinds: tuple[MeasurementKind, ...]
    settles: bool
    phrase: Phrase


@dataclass(frozen=True, slots=True)
class _Option:
    how: SettlingHow
    kinds: tuple[MeasurementKind, ...]
    geometry: Geometry
    readings: tuple[Reading, ...]


def what_would_settle(
    geometry: Geometry, readings: Sequence[Reading], doubtful: Sequence[Position], limit: float
) -> Settling | None:
    """The smallest addition that settles the doubtful cords at `limit` standard errors: to `TELLS_APART_M` where
    the readings so far leave them confounded, else to `MATTERS_M`.

    One more kind is tried first, then what is there read finer, then the arms, then two and more kinds. If
    nothing settles it, the best of them; None when nothing would help at all.
    """
    now = _worst_error(geometry, readings, doubtful)
    target_m = MATTERS_M if np.isfinite(now) else TELLS_APART_M
    best: tuple[float, _Option] | None = None
    for same_effort in _options(geometry, readings):
        for option in same_effort:
            worst = _worst_error(option.geometry, option.readings, doubtful)
            if worst < 0.99 * now and (best is None or worst < 0.99 * best[0]):
                best = (worst, option)
        if best is not None and limit * best[0] <= target_m:
            break
    if best is None:
        return None
    worst, option = best
    settles = limit * worst <= target_m
    return Settling(option.how, option.kinds, settles, _phrase(option, settles, confounded=not np.isfinite(now)))


def _options(geometry: Geometry, readings: Sequence[Reading]) -> Iterator[list[_Option]]:
    """Options of growing effort."""
    usable = usable_kinds(geometry)
    taken = tuple(reading for reading in readings if reading.kind in usable)
    resolution = min((reading.resolution_si for reading in taken), default=DEFAULT_RESOLUTION_M)
    missing = [kind for kind in usable if kind not in {reading.kind for reading in taken}]
    # A reading not yet taken stands at what the readings so far predict: the arms' share grows with stretch.
    response = drift_matrix(geometry)
    stretch = estimate(reading_model(geometry, taken)).stretch_m
    predicted = dict(zip(response.kinds, response.matrix @ stretch, strict=True))

    def also(kinds: tuple[MeasurementKind, ...]) -> _Option:
        more = tuple(Reading(kind, 0.0, float(predicted[kind]), resolution) for kind in kinds)
        return _Option(SettlingHow.ALSO_MEASURE, kinds, geometry, taken + more)

    yield [also((kind,)) for kind in missing]
    yield [
        _Option(SettlingHow.READ_FINER, (reading.kind,), geometry, _finer(taken, reading.kind))
        for reading in taken
        if reading.resolution_si > CALLIPER_RESOLUTION_M
    ]
    if _measurable_arms(geometry):
        yield [_Option(SettlingHow.MEASURE_ARMS, (), _with_arms_measured(geometry), taken)]
    for count in range(2, len(missing) + 1):
        yield [also(kinds) for kinds in combinations(missing, count)]


def _finer(readings: tuple[Reading, ...], kind: MeasurementKind) -> tuple[Reading, ...]:
    return tuple(
        replace(reading, resolution_si=CALLIPER_RESOLUTION_M) if reading.kind is kind else reading
        for reading in readings
    )


def _with_arms_measured(geometry: Geometry) -> Geometry:
    names = _measurable_arms(geometry)
    values = geometry.parameters()
    return geometry.with_parameters(
        {name: measured(values[name].value, MEASURED_ARM_STANDARD_ERROR_M) for name in names}
    )


def _measurable_arms(geometry: Geometry) -> list[str]:
    """The assumed values that a rule can measure: a ratio is learned from closed orders instead."""
    return [name for name in geometry.assumed_names() if not name.endswith("ratio")]


def _worst_error(geometry: Geometry, readings: Sequence[Reading], doubtful: Sequence[Position]) -> float:
    found = estimate(reading_model(geometry, readings))
    return float(np.max([found.standard_error_m[geometry.positions.index(position)] for position in doubtful]))


def _phrase(option: _Option, settles: bool, confounded: bool) -> Phrase:
    names = listed([name_of(kind) for kind in option.kinds])
    words = {
        SettlingHow.ALSO_MEASURE: say("also measure %(names)s", names=names),
        SettlingHow.READ_FINER: say("read %(names)s again with a calliper", names=names),
        SettlingHow.MEASURE_ARMS: say("measure this bow's brace arms"),
    }[option.how]
    aim = say("tell them apart") if confounded else say("see whether another cord has moved a little")
    if settles:
        return say("to %(aim)s, %(words)s", aim=aim, words=words)
    return say("to %(aim)s, it would help to %(words)s, if not for certain", aim=aim, words=words)
