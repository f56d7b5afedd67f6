"""How often the diagnosis names the right cord when a rule is read to 1/64 in.

Run `python -m tests.timing.noise_study` to print the table as Markdown. One cord of an invented bow is stretched;
every reading (reference and as found) gets a person's error and is rounded to the division. The table is of a person
who reads to half a division (standard deviation); the worst of one who reads to a whole division is told below it;
the bow's true arms differ from those that the diagnosis is given, by 1 mm where measured and by 20 % where
assumed (half of the bows with both cams off alike, half with each arm off by itself).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import product

import numpy as np

from service.timing.diagnosis import Verdict, diagnose
from service.timing.geometry import (
    DEFAULT_ARMS_M,
    ArmName,
    BowGeometry,
    Known,
    Provenance,
    bow_geometry,
)
from service.timing.kinematics import drift
from service.timing.readings import Reading
from service.timing.vocabulary import CamSystem, MeasurementKind, Position

INCH_M = 0.0254
RULE_DIVISION_M = INCH_M / 64
CAREFUL, ROUGH = 0.5, 1.0
"""A person's error in divisions, as a standard deviation: either side of what the diagnosis assumes."""
STRETCHES_IN = (1 / 16, 1 / 8, 1 / 4)
LARGEST_ARM_ERROR = 2.0
KIND = MeasurementKind

MEASUREMENT_SETS: dict[str, tuple[MeasurementKind, ...]] = {
    "ATA": (KIND.AXLE_TO_AXLE,),
    "hole distances": (KIND.HOLE_DISTANCE_UPPER, KIND.HOLE_DISTANCE_LOWER),
    "ATA, one mark": (KIND.AXLE_TO_AXLE, KIND.TIMING_MARK_LOWER),
    "ATA, hole distances": (KIND.AXLE_TO_AXLE, KIND.HOLE_DISTANCE_UPPER, KIND.HOLE_DISTANCE_LOWER),
    "ATA, marks": (KIND.AXLE_TO_AXLE, KIND.TIMING_MARK_UPPER, KIND.TIMING_MARK_LOWER),
    "ATA, hole distances, marks": (
        KIND.AXLE_TO_AXLE,
        KIND.HOLE_DISTANCE_UPPER,
        KIND.HOLE_DISTANCE_LOWER,
        KIND.TIMING_MARK_UPPER,
        KIND.TIMING_MARK_LOWER,
    ),
}


@dataclass(frozen=True)
class Tally:
    """Counts of one cell: right names the true cord and no other; wrong names any that did not move."""

    right: int = 0
    wrong: int = 0
    cannot_tell: int = 0
    nothing_seen: int = 0
    read_again: int = 0

    @property
    def bows(self) -> int:
        return self.right + self.wrong + self.cannot_tell + self.nothing_seen + self.read_again


def kinds_of(cam_system: CamSystem, set_name: str) -> tuple[MeasurementKind, ...]:
    """The set as far as the bow has it: an idler has no hole and no mark."""
    kinds = MEASUREMENT_SETS[set_name]
    if cam_system is CamSystem.SINGLE:
        return tuple(kind for kind in kinds if not kind.value.endswith("upper"))
    return kinds


def given_geometry(cam_system: CamSystem, arms_measured: bool) -> BowGeometry:
    if not arms_measured:
        return bow_geometry(cam_system)
    arms = dict(DEFAULT_ARMS_M)
    return bow_geometry(cam_system, None if cam_system is CamSystem.SINGLE else arms, arms)


def true_geometry(given: BowGeometry, random: np.random.Generator) -> BowGeometry:
    """The bow on the bench: its arms stand off the given ones by their standard errors, at most two of them."""
    alike = random.random() < 0.5
    while True:
        shared = {arm.value: random.standard_normal() for arm in ArmName}
        values = {}
        for name, known in given.parameters().items():
            off = shared[name.split(".")[1]] if alike else random.standard_normal()
            off = float(np.clip(off, -LARGEST_ARM_ERROR, LARGEST_ARM_ERROR))
            values[name] = Known(known.value + off * known.standard_error, 0.0, Provenance.MEASURED)
        try:
            return given.with_parameters(values)
        except ValueError:  # a binary cam whose let-out arm came out longer than its take-up arm does not exist
            continue


def as_read(true_m: float, person_divisions: float, random: np.random.Generator) -> float:
    person = random.normal(0.0, RULE_DIVISION_M * person_divisions)
    return float(np.round((true_m + person) / RULE_DIVISION_M) * RULE_DIVISION_M)


def study_cell(
    cam_system: CamSystem,
    set_name: str,
    moved: Position,
    stretch_m: float,
    arms_measured: bool,
    bows: int,
    seed: tuple[int, int],
    person_divisions: float = CAREFUL,
) -> Tally:
    """Diagnose `bows` invented bows of which one cord stretched by `stretch_m`."""
    random = np.random.default_rng(seed)
    given = given_geometry(cam_system, arms_measured)
    counts: Counter[str] = Counter()
    for _ in range(bows):
        changes = drift(true_geometry(given, random), {moved: stretch_m})
        readings = []
        for kind in kinds_of(cam_system, set_name):
            reference_m = random.uniform(0.02, 0.06) + (0.8 if kind is KIND.AXLE_TO_AXLE else 0.0)
            found_m = as_read(reference_m + changes[kind], person_divisions, random)
            readings.append(Reading(kind, as_read(reference_m, person_divisions, random), found_m, RULE_DIVISION_M))
        diagnosis = diagnose(given, readings)
        if diagnosis.verdict is Verdict.MOVED:
            counts["right" if diagnosis.moved == (moved,) else "wrong"] += 1
        else:
            counts[diagnosis.verdict.value] += 1
    return Tally(**counts)


Key = tuple[CamSystem, str, float, bool]


def study(bows: int, person_divisions: float = CAREFUL, seed: int = 20) -> dict[Key, list[Tally]]:
    """Per cam system, measurement set, stretch (in) and whether the arms were measured: a tally per cord."""
    cells = {}
    for key in product(CamSystem, MEASUREMENT_SETS, STRETCHES_IN, (True, False)):
        cam_system, set_name, stretch_in, arms_measured = key
        # Each cord has its own invented bows: shared ones would make the pooled rate a sample of a third the size.
        cells[key] = [
            study_cell(
                cam_system, set_name, moved, stretch_in * INCH_M, arms_measured, bows, (seed, row), person_divisions
            )
            for row, moved in enumerate(bow_geometry(cam_system).positions)
        ]
    return cells


def pooled(tallies: list[Tally]) -> Tally:
    fields = ("right", "wrong", "cannot_tell", "nothing_seen", "read_again")
    return Tally(**{field: sum(getattr(tally, field) for tally in tallies) for field in fields})


def markdown(cells: dict[Key, list[Tally]]) -> str:
    """Right / wrong, in percent of bows; the rest says "cannot tell" or "nothing seen"."""
    heads = [f"{label} {where}" for where in ("measured", "assumed") for label in ("1/16", "1/8", "1/4")]
    lines = [f"| cam system | measured on the bow | {' | '.join(heads)} |", "| --- " * (2 + len(heads)) + "|"]
    for cam_system in CamSystem:
        for set_name in MEASUREMENT_SETS:
            shown = []
            for measured in (True, False):
                for stretch_in in STRETCHES_IN:
                    tally = pooled(cells[cam_system, set_name, stretch_in, measured])
                    shown.append(f"{100 * tally.right / tally.bows:.0f} / {100 * tally.wrong / tally.bows:.1f}")
            lines.append(f"| {cam_system} | {set_name} | {' | '.join(shown)} |")
    return "\n".join(lines)


def worst(cells: dict[Key, list[Tally]]) -> str:
    """The row that is most often wrong, and the one most often told to read again."""
    rows = {key: pooled(tallies) for key, tallies in cells.items()}
    wrong = max(rows, key=lambda key: rows[key].wrong / rows[key].bows)
    again = max(rows, key=lambda key: rows[key].read_again / rows[key].bows)
    return (
        f"most often wrong {100 * rows[wrong].wrong / rows[wrong].bows:.1f} % {_named(wrong)}; "
        f"most often told to read again {100 * rows[again].read_again / rows[again].bows:.1f} % {_named(again)}"
    )


def _named(key: Key) -> str:
    cam_system, set_name, stretch_in, arms_measured = key
    arms = "measured" if arms_measured else "assumed"
    return f"({cam_system}, {set_name}, {stretch_in} in, arms {arms})"


if __name__ == "__main__":
    careful = study(bows=150)
    print(markdown(careful))
    print(f"\nRead to half a division: {worst(careful)}.")
    print(f"Read to a whole division: {worst(study(bows=150, person_divisions=ROUGH))}.")
