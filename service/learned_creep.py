"""Each cord's own creep rate, from what the bench left and found next: changes turned back into stretch, per cord.

The prior is log-normal about the coefficient of the cord's spec. A cord that nobody measured twice keeps it.
"""

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

import numpy as np

from fleet.models import Bow, CordSpec, SpecSheet
from service.bow_geometry import OwnArms, geometry_of, own_arms
from service.exposures import exposure_of
from service.fitted import MOST_NAMED
from service.gather import Gathered
from service.measured_spans import Span, measured_spans
from service.timing.diagnosis import believed_stretch
from service.timing.vocabulary import Position
from service.wear.arrays import Flags, Floats, Ints, run_members
from service.wear.coefficients import HOURS_PER_MONTH, Coefficient
from service.wear.creep_learning import CreepPairs, CreepPrior, learn_creep
from service.wear.exposure import Exposure
from service.wear.rows import picked
from service.wear.shot_exposure import weighted_shots

# A cord's own pairs lead once they have halved the spread of what was believed before. House choice.
OWN_LEADS_BELOW = 0.5


@dataclass(frozen=True, eq=False)
class CreepBelief:
    """What is believed of the creep of n cords, arrays (n,).

    `per_month`: median strain (m/m) per month at the reference temperature, for a heat weight of 1. `log_sd`: spread of
    its logarithm. `prior_log_sd`: the spread before any pair. `pairs`: as-left/as-found pairs that it rests on.
    """

    per_month: Floats
    log_sd: Floats
    prior_log_sd: Floats
    pairs: Ints

    @property
    def own_leads(self) -> Flags:
        """Whether the cord's own pairs lead; else the coefficient does."""
        return self.log_sd <= OWN_LEADS_BELOW * self.prior_log_sd


def prior_creep(rows: Gathered, fitted: Ints) -> CreepBelief:
    """The coefficient's creep for each fitting in `fitted`, before anything was measured."""
    specs, which = np.unique(rows.keys.spec[fitted], return_inverse=True)
    tables = [rows.coefficients.of(pk) for pk in specs.tolist()]
    log_sd = np.array([table["creep_log_sd"].value for table in tables], dtype=np.float64)[which]
    rate = np.array([table["creep_rate"].value for table in tables], dtype=np.float64)[which]
    return CreepBelief(rate, log_sd, log_sd, np.zeros(fitted.size, dtype=np.int64))


def creep_learned(rows: Gathered, fitted: Ints, now: datetime) -> CreepBelief:
    """The creep of the cord of each fitting in `fitted`, learned from every span that it was on a bow for."""
    belief = prior_creep(rows, fitted)
    pairs = _Pairs.of(rows, fitted, now)
    if not pairs.cord.size:
        return belief
    per_month, log_sd, count = belief.per_month.copy(), belief.log_sd.copy(), belief.pairs.copy()
    spec_of = rows.keys.spec[fitted]
    for spec_id in np.unique(spec_of[pairs.cord]).tolist():
        table = rows.coefficients.of(spec_id)
        if table["creep_rate"].value <= 0.0:
            # The house says that this fibre does not creep: there is no scale to learn on.
            continue
        mine = np.flatnonzero(spec_of[pairs.cord] == spec_id)
        cords, which = np.unique(pairs.cord[mine], return_inverse=True)
        # Rates are learned as multiples of the coefficient, so that one prior serves every fibre.
        prior = CreepPrior(1.0, math.exp(table["creep_log_sd"].value))
        told = CreepPairs(which.astype(np.int64), *(column[mine] for column in pairs.told(table)))
        found = learn_creep(told, cords.size, prior)
        per_month[cords] = found.median_per_h * table["creep_rate"].value
        log_sd[cords], count[cords] = found.log_sd, found.pairs
    return CreepBelief(per_month, log_sd, belief.prior_log_sd, count)


@dataclass(frozen=True, eq=False)
class _Pairs:
    """One row per span and cord: which of the fitted cords, by which fitting, the strain found and its error.

    `heat_h` is that of the span (h at the reference temperature, weighted for the fibre); shots count from new.
    """

    cord: Ints
    strain: Floats
    error: Floats
    heat_h: Floats
    shots_before: Floats
    shots_after: Floats

    @classmethod
    def of(cls, rows: Gathered, fitted: Ints, now: datetime) -> "_Pairs":
        """The pairs of the cords fitted now, on this bow and on those that they were on before."""
        found = _found(rows, fitted, now)
        cord, fitting = found[:, 0].astype(np.int64), found[:, 1].astype(np.int64)
        _, _, start_s, end_s, strain, error = found.T
        span = _exposure_in(rows, fitting, start_s, end_s)
        before = _shots_before(rows, fitting, start_s)
        heat_h = span.heat_h * rows.rows.cords.heat_weight[fitting]
        return cls(cord, strain, error, heat_h, before, before + span.weighted_shots)

    def told(self, table: Mapping[str, Coefficient]) -> tuple[Floats, Floats, Floats]:
        """Creep that the coefficient predicts, strain left for creep, and its standard error, per pair.

        The settle-in of the span is taken off; being assumed, it is believed to be wrong by as much again as
        `settle_in_relative_sd` says.
        """
        constant = table["settle_in_shots_constant"].value
        settled = np.exp(-self.shots_before / constant) - np.exp(-self.shots_after / constant)
        settle = table["settle_in_strain"].value * settled
        predicted = table["creep_rate"].value / HOURS_PER_MONTH * self.heat_h
        error = np.hypot(self.error, table["settle_in_relative_sd"].value * settle)
        return predicted, self.strain - settle, error


def _found(rows: Gathered, fitted: Ints, now: datetime) -> Floats:
    """Columns: index of the cord, row of its fitting, start and end of the span (s), strain, its standard error."""
    cord_of = {cord: i for i, cord in enumerate(rows.keys.cord[fitted].tolist())}
    on_bow: dict[int, list[int]] = defaultdict(list)
    for row, (bow, cord) in enumerate(zip(rows.keys.bow.tolist(), rows.keys.cord.tolist(), strict=True)):
        if cord in cord_of:
            on_bow[bow].append(row)
    stretches = _Stretches(rows)
    found: list[tuple[float, ...]] = []
    for span in measured_spans(on_bow, now):
        there = [row for row in on_bow[span.bow_id] if _throughout(rows, row, span)]
        for row, strain, error in stretches.of(span, there):
            found.append((cord_of[int(rows.keys.cord[row])], row, span.start_s, span.end_s, strain, error))
    return np.array(found, dtype=np.float64).reshape(-1, 6)


def _exposure_in(rows: Gathered, fitting: Ints, start_s: Floats, end_s: Floats) -> Exposure:
    """What each cord went through between the two instants, on the bow of that fitting."""
    nothing = np.zeros(fitting.size)
    cords = replace(
        picked(rows.rows.cords, fitting),
        fitted_s=start_s,
        removed_s=end_s,
        made_s=np.full(fitting.size, np.nan),
        prior_shots=nothing,
        prior_tension_h=nothing,
        prior_heat_h=nothing,
    )
    return exposure_of(rows, cords, float(np.max(end_s, initial=0.0)))


def _shots_before(rows: Gathered, fitting: Ints, start_s: Floats) -> Floats:
    """Shots of each cord before an instant: on every bow that it was on, and what it brought along."""
    cord = rows.keys.cord
    # Fittings of one cord lie together: each pair is laid beside all of them.
    first, last = np.searchsorted(cord, cord[fitting]), np.searchsorted(cord, cord[fitting], side="right")
    pair, row = run_members(first.astype(np.int64), last.astype(np.int64))
    begun = rows.rows.cords.fitted_s[row] <= start_s[pair]
    pair, row = pair[begun], row[begun]
    there = picked(rows.rows.cords, row)
    cords = replace(there, removed_s=np.maximum(np.fmin(there.removed_s, start_s[pair]), there.fitted_s))
    shots = weighted_shots(cords, rows.rows.shots, float(np.max(start_s, initial=0.0))) + there.prior_shots
    return np.bincount(pair, shots, minlength=fitting.size).astype(np.float64)


def _throughout(rows: Gathered, row: int, span: Span) -> bool:
    removed = rows.keys.removed_s[row]
    return bool(rows.keys.fitted_s[row] <= span.start_s and (np.isnan(removed) or removed >= span.end_s))


class _Stretches:
    """Strain of a bow's cords over a span: the readings turned back by the timing model, over each cord's length."""

    def __init__(self, rows: Gathered) -> None:
        self.rows = rows

    @cached_property
    def _specs(self) -> dict[int, CordSpec]:
        return CordSpec.objects.in_bulk(np.unique(self.rows.keys.spec).tolist())

    @cached_property
    def _sheets(self) -> dict[int, SpecSheet]:
        sheets = SpecSheet.objects.in_bulk()
        bows, ids = Bow.objects.all(), self.rows.bow_ids.tolist()
        of_bow = (bows if len(ids) > MOST_NAMED else bows.filter(pk__in=ids)).values_list("pk", "spec_sheet_id")
        return {bow: sheets[sheet] for bow, sheet in of_bow}

    @cached_property
    def _own_arms(self) -> dict[int, OwnArms]:
        return own_arms(self.rows.bow_ids.tolist() if self.rows.bow_ids.size <= MOST_NAMED else None)

    def of(self, span: Span, fittings: list[int]) -> Iterator[tuple[int, float, float]]:
        """Row, strain and its standard error of those fittings whose cords the readings determine.

        Readings that are doubtful or contradict each other teach nothing.
        """
        if not fittings:
            return
        geometry = geometry_of(self._sheets[span.bow_id], self._own_arms.get(span.bow_id))
        stretch = believed_stretch(geometry, span.readings)
        for row in fittings:
            spec = self._specs[int(self.rows.keys.spec[row])]
            found = stretch.get(Position(spec.position))
            if found is not None:
                yield row, found[0] / spec.length_m, found[1] / spec.length_m
