"""What the bench of a chain's site has done: reference sets, and signed orders with what was found and left."""

import json
from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np

from fleet.models import Person
from fleet.record import ReferenceValue
from service.timing.readings import DEFAULT_RESOLUTION_M
from tests import personas
from tests.benchmarks.chain_bows import BOWS, DAY_S, HOUR_S, MAKES, NOW_S, Drawn
from tests.benchmarks.copied import copy, instants

SHOT_IN_DAYS = 21.0
"""A new set is measured again so many days after it was put on."""
LOOKED_OVER_EVERY_DAYS = 30.0
SETS, RESULTS = 2, 2


def bench_history(mine: Drawn, by: Person, random: np.random.Generator) -> None:
    """Each bow measured when its set was put on and after it was shot in, and looked over within the last month."""
    changed = NOW_S - mine.set_age_days * DAY_S
    shot_in = np.where(mine.set_age_days > SHOT_IN_DAYS, changed + SHOT_IN_DAYS * DAY_S, changed + 2 * HOUR_S)
    seen = np.maximum(NOW_S - random.uniform(0.1, LOOKED_OVER_EVERY_DAYS, BOWS) * DAY_S, shot_in + 3 * HOUR_S)
    seen = np.minimum(seen, NOW_S - HOUR_S)
    sets = (1 + mine.number * BOWS * SETS + np.arange(BOWS * SETS)).reshape(SETS, BOWS)
    for version, taken in enumerate((changed + HOUR_S, shot_in + HOUR_S), start=1):
        _reference_set(mine, sets[version - 1], version, taken, by)
    results = (1 + mine.number * BOWS * RESULTS + np.arange(BOWS * RESULTS)).reshape(RESULTS, BOWS)
    _signed(mine, results[0], "R", "replacement", changed + HOUR_S, sets[0], by)
    _signed(mine, results[1], "T", "timing_check", seen, sets[1], by)
    _found_and_left(mine, results, random)


def _reference_set(mine: Drawn, ids: Any, version: int, taken: Any, by: Person) -> None:
    copy(
        "fleet_referenceset",
        id=ids,
        bow_id=mine.bow,
        version=version,
        origin="after_service",
        taken_at=instants(taken),
        taken_by_id=by.pk,
        current=version == SETS,
    )
    rows = [
        (pk, one.kind, one.value, one.tolerance)
        for pk, sheet in zip(ids.tolist(), mine.sheet.tolist(), strict=True)
        for one in _values(sheet)
    ]
    pk, kind, value, tolerance = (list(column) for column in zip(*rows, strict=True))
    copy("fleet_referencemeasurement", reference_set_id=pk, kind=kind, position="", value=value, tolerance=tolerance)


@cache
def _values(sheet: int) -> Sequence[ReferenceValue]:
    system = list(MAKES)[sheet]
    return personas.reference_values("compound" if system else "recurve", system)


def _signed(mine: Drawn, ids: Any, letter: str, kind: str, signed: Any, sets: Any, by: Person) -> None:
    copy(
        "fleet_signedresult",
        id=ids,
        order_number=[f"{mine.number:05d}-{letter}-{n:03d}" for n in range(BOWS)],
        bow_id=mine.bow,
        reference_set_id=sets,
        work=json.dumps([{"kind": kind, "reason": "in its turn"}]),
        cords_changed="[]",
        steps_done="[]",
        note="",
        signed_at=instants(signed),
        performed_by_id=by.pk,
        released_by_id=by.pk,
        released_at=instants(signed + HOUR_S / 2),
    )


def _found_and_left(mine: Drawn, results: Any, random: np.random.Generator) -> None:
    """As left at each, as found at the second: off by what a rule reads, and by a little creep."""
    rows = [
        (pk, one.kind, one.value, is_first)
        for row, is_first in ((results[0], True), (results[1], False))
        for pk, sheet in zip(row.tolist(), mine.sheet.tolist(), strict=True)
        for one in _values(sheet)
    ]
    pk, kind, value, is_first = (list(column) for column in zip(*rows, strict=True))
    left = np.array(value)
    found = left + random.normal(0.0, DEFAULT_RESOLUTION_M / 2, left.size)
    copy(
        "fleet_resultmeasurement",
        result_id=pk,
        kind=kind,
        position="",
        as_found=[None if first else one for first, one in zip(is_first, found.tolist(), strict=True)],
        as_left=left,
        tool_overdue=False,
    )
