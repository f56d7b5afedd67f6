"""Backward: from as-found readings to the cord that moved, or a plain "cannot tell" and what would settle it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy import special

from service.said import say
from service.timing.estimate import Estimate, estimate
from service.timing.geometry import Geometry, StringBowGeometry
from service.timing.phrases import Phrase, either, length, listed
from service.timing.plausibility import Suspicion, SuspicionKind, suspicious_readings
from service.timing.readings import Reading, ReadingModel, reading_model
from service.timing.settling import MATTERS_M, Settling, what_would_settle
from service.timing.vocabulary import MeasurementKind, Position, name_of

MISNAMED_RATE = 0.01
"""Share of diagnoses in which noise alone may name a cord that has not moved, shared among the cords (Bonferroni).
The bench may be misled once in twenty at most; the rest of that is kept for arms far off the assumed ones, which
the covariance follows only to first order (`tests/timing/noise_study.py` measures it)."""
STILL_P = 0.05
DISAGREE_P = 0.01
AGREE_P = 0.05


class Verdict(StrEnum):
    MOVED = "moved"
    NOTHING_SEEN = "nothing_seen"
    CANNOT_TELL = "cannot_tell"
    READ_AGAIN = "read_again"


@dataclass(frozen=True, slots=True)
class CordStretch:
    """Stretch of one cord (m, positive is longer) and its standard error; both None where it is not determined."""

    position: Position
    stretch_m: float | None
    standard_error_m: float | None


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What the readings say.

    `moved`: cords that moved beyond doubt. `confounded`: cords that these readings cannot tell apart.
    `unseen`: cords determined too poorly to see a stretch that matters. `settling`: what to measure next.
    `condition`: of the weighted response (infinite when rank deficient). `consistent_p`: how usual the
    disagreement among the readings is. `assumed`: the arms that nobody has measured.
    """

    verdict: Verdict
    moved: tuple[Position, ...]
    stretches: tuple[CordStretch, ...]
    confounded: tuple[Position, ...]
    unseen: tuple[Position, ...]
    settling: Settling | None
    suspicions: tuple[Suspicion, ...]
    rank: int
    condition: float
    consistent_p: float
    used: tuple[MeasurementKind, ...]
    assumed: tuple[str, ...]
    phrases: tuple[Phrase, ...]


def significance(cords: int) -> float:
    """How many standard errors a stretch must stand from nothing to be named."""
    return -float(special.ndtri(MISNAMED_RATE / (2 * cords)))


def diagnose(geometry: Geometry, readings: Sequence[Reading]) -> Diagnosis:
    """Which cord moved, by how much. Readings of kinds that the kinematics do not predict are only checked for
    plausibility. Raises ValueError on a kind given twice."""
    model, found, suspicions = _weighed(geometry, readings)
    moved = _moved(geometry, found)
    verdict = _verdict(found, moved, suspicions)
    named = moved if verdict is Verdict.MOVED else ()
    stretches = _stretches(geometry, found)
    confounded = tuple(cord.position for cord in stretches if cord.standard_error_m is None)
    unseen = _unseen(geometry, found, moved)
    settling = None
    if verdict is not Verdict.READ_AGAIN:
        doubtful = confounded or unseen or (geometry.positions if verdict is Verdict.CANNOT_TELL else ())
        if doubtful:
            settling = what_would_settle(geometry, readings, doubtful, significance(len(geometry.positions)))
    assumed = geometry.assumed_names()
    phrases = [suspicion.phrase for suspicion in suspicions]
    phrases += _verdict_phrases(verdict, found.consistent_p < DISAGREE_P)
    phrases += _moved_phrases([cord for cord in stretches if cord.position in named])
    if verdict is not Verdict.NOTHING_SEEN:
        phrases += _open_phrases(confounded, settling)
    phrases += _assumed_phrases(geometry, assumed, model.kinds)
    return Diagnosis(
        verdict=verdict,
        moved=named,
        stretches=stretches,
        confounded=confounded,
        unseen=unseen,
        settling=settling,
        suspicions=suspicions,
        rank=found.rank,
        condition=found.condition,
        consistent_p=found.consistent_p,
        used=model.kinds,
        assumed=assumed,
        phrases=tuple(phrases),
    )


def believed_stretch(geometry: Geometry, readings: Sequence[Reading]) -> dict[Position, tuple[float, float]]:
    """Stretch and standard error (m) of each cord that the readings determine; none while a reading is doubtful."""
    _, found, suspicions = _weighed(geometry, readings)
    if suspicions or found.consistent_p < DISAGREE_P:
        return {}
    cords = zip(geometry.positions, found.stretch_m, found.standard_error_m, found.estimable, strict=True)
    return {position: (float(stretch), float(error)) for position, stretch, error, ok in cords if ok}


def _assumed_phrases(geometry: Geometry, assumed: Sequence[str], used: Sequence[MeasurementKind]) -> list[Phrase]:
    """What the answer rests on that nobody has measured; the stops matter only where stop sync was weighed."""
    if isinstance(geometry, StringBowGeometry):
        said = say("how far the brace height follows the string is assumed, not learned from this bow yet")
        return [said] if assumed else []
    matter = [name for name in assumed if not name.startswith("stops.") or MeasurementKind.STOP_SYNC in used]
    return [say("some brace arms are assumed, not measured on this bow")] if matter else []


def _weighed(geometry: Geometry, readings: Sequence[Reading]) -> tuple[ReadingModel, Estimate, tuple[Suspicion, ...]]:
    """The estimate from the readings that can be believed, and those that cannot."""
    whole = reading_model(geometry, readings)
    suspicions = suspicious_readings(whole, readings)
    model = whole.without(tuple(kind for suspicion in suspicions for kind in suspicion.kinds))
    found = estimate(model)
    if found.consistent_p < DISAGREE_P:
        confirmed = {reading.kind for reading in readings if reading.confirmed}
        for suspicion in _disagreeing(model, confirmed):
            suspicions = (*suspicions, suspicion)
            model = model.without(suspicion.kinds)
            found = estimate(model)
    return model, found, suspicions


def _unseen(geometry: Geometry, found: Estimate, moved: tuple[Position, ...]) -> tuple[Position, ...]:
    limit = significance(len(geometry.positions))
    return tuple(
        position
        for position, error in zip(geometry.positions, found.standard_error_m, strict=True)
        if np.isfinite(error) and limit * error > MATTERS_M and position not in moved
    )


def _moved(geometry: Geometry, found: Estimate) -> tuple[Position, ...]:
    limit = significance(len(geometry.positions))
    return tuple(
        position
        for position, stretch, error in zip(geometry.positions, found.stretch_m, found.standard_error_m, strict=True)
        if abs(stretch) > limit * error
    )


def _verdict(found: Estimate, moved: tuple[Position, ...], suspicions: Sequence[Suspicion]) -> Verdict:
    if suspicions:
        return Verdict.READ_AGAIN
    if found.consistent_p < DISAGREE_P or found.rank == 0:
        return Verdict.CANNOT_TELL
    if found.still_p > STILL_P:
        return Verdict.NOTHING_SEEN
    return Verdict.MOVED if moved else Verdict.CANNOT_TELL


def _disagreeing(model: ReadingModel, confirmed: set[MeasurementKind]) -> list[Suspicion]:
    """The readings of which any one, left out, makes the rest agree; empty when none does."""
    culprits = []
    for kind in model.kinds:
        rest = estimate(model.without((kind,)))
        if kind not in confirmed and rest.consistent_p > AGREE_P:
            culprits.append(kind)
    if not culprits:
        return []
    names = either([name_of(kind) for kind in culprits])
    if len(culprits) == 1:
        phrase = say("%(names)s: disagrees with the other readings; read it again", names=names)
    else:
        phrase = say("%(names)s: one of them disagrees with the other readings; read them again", names=names)
    return [Suspicion(SuspicionKind.DISAGREES, tuple(culprits), phrase)]


def _stretches(geometry: Geometry, found: Estimate) -> tuple[CordStretch, ...]:
    return tuple(
        CordStretch(position, float(stretch) if ok else None, float(error) if ok else None)
        for position, stretch, error, ok in zip(
            geometry.positions, found.stretch_m, found.standard_error_m, found.estimable, strict=True
        )
    )


def _verdict_phrases(verdict: Verdict, contradicting: bool) -> list[Phrase]:
    if verdict is Verdict.NOTHING_SEEN:
        return [say("no cord has moved by more than these tools can read")]
    if verdict is not Verdict.CANNOT_TELL:
        return []
    phrases = [say("cannot tell which cord moved")]
    if contradicting:
        phrases.append(
            say("the readings contradict each other or the brace arms: look for a bent part, measure the arms")
        )
    return phrases


def _moved_phrases(moved: Sequence[CordStretch]) -> list[Phrase]:
    phrases: list[Phrase] = []
    for cord in moved:
        if cord.stretch_m is None or cord.standard_error_m is None:
            continue
        parts = {
            "cord": name_of(cord.position),
            "stretch": length(abs(cord.stretch_m)),
            "error": length(cord.standard_error_m),
        }
        if cord.stretch_m > 0:
            phrases.append(say("%(cord)s is %(stretch)s longer, give or take %(error)s", **parts))
        else:
            phrases.append(say("%(cord)s is %(stretch)s shorter, give or take %(error)s", **parts))
    if any(cord.stretch_m is not None and cord.stretch_m < 0 for cord in moved):
        phrases.append(
            say("cords do not shrink: was it twisted since the reference was taken, or is a reading wrong way round?")
        )
    return phrases


def _open_phrases(confounded: tuple[Position, ...], settling: Settling | None) -> list[Phrase]:
    phrases: list[Phrase] = []
    if confounded:
        names = listed([name_of(position) for position in confounded])
        phrases.append(say("these readings cannot tell %(names)s apart", names=names))
    if settling is not None:
        phrases.append(settling.phrase)
    return phrases
