"""Spans between two measurements of a bow in which nothing but use moved it: as left, then next as found.

A span begins with what the bench left (or with a reference set that was measured) and ends with what the next signed
order found. A reset, a cord changed or put on in between breaks it: then the change is the bench's, not the cords'.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from itertools import chain, pairwise

from fleet.models import CordReset, Fitting, ReferenceMeasurement, ReferenceSet, ResultMeasurement, SignedResult
from fleet.vocabulary import Dimension, Origin, dimension_of
from service.fitted import MOST_NAMED
from service.instants import epoch_s
from service.timing.readings import DEFAULT_RESOLUTION_M, Reading
from service.timing.vocabulary import MeasurementKind


@dataclass(frozen=True)
class Span:
    """What a bow's measurements did between two instants (epoch s): left as the reference, found as the reading."""

    bow_id: int
    start_s: float
    end_s: float
    readings: tuple[Reading, ...]


@dataclass
class _Moment:
    """One occasion on which a bow was measured: what was found, what was left, how fine the tool reads (m)."""

    at_s: float
    found: dict[str, float] = field(default_factory=dict)
    left: dict[str, float] = field(default_factory=dict)
    resolution: dict[str, float] = field(default_factory=dict)


def measured_spans(bow_ids: Iterable[int], now: datetime) -> Iterator[Span]:
    """Every span of these bows that ended by `now`, in order of bow and time. Empty without signed results."""
    ids = sorted(set(bow_ids))
    results = _results(ids, now)
    if not results:
        return
    sets = _reference_sets(sorted(results), now)
    breaks = _breaks(sorted(results))
    for bow_id, moments in sorted(results.items()):
        resets = breaks[bow_id]
        in_order = sorted([*moments, *sets[bow_id]], key=lambda one: one.at_s)
        for one in moments:
            # Where nothing was reset, what was found stands: the next span begins with it.
            if not _between(resets, one.at_s, one.at_s, inclusive=True):
                one.left = {**one.found, **one.left}
        for before, after in pairwise([one for one in in_order if one.found or one.left]):
            readings = _readings(before, after)
            if readings and after.at_s > before.at_s and not _between(resets, before.at_s, after.at_s):
                yield Span(bow_id, before.at_s, after.at_s, readings)


def _readings(before: _Moment, after: _Moment) -> tuple[Reading, ...]:
    return tuple(
        Reading(
            MeasurementKind(kind),
            before.left[kind],
            after.found[kind],
            max(before.resolution[kind], after.resolution[kind]),
        )
        for kind in sorted(before.left.keys() & after.found.keys())
    )


def _between(instants: list[float], start_s: float, end_s: float, *, inclusive: bool = False) -> bool:
    """Whether any of the sorted instants lies between the two (or on them)."""
    if inclusive:
        return bisect_left(instants, start_s) < bisect_right(instants, end_s)
    return bisect_right(instants, start_s) < bisect_left(instants, end_s)


def _results(ids: list[int], now: datetime) -> dict[int, list[_Moment]]:
    rows = SignedResult.objects.filter(signed_at__lte=now)
    if len(ids) <= MOST_NAMED:
        rows = rows.filter(bow__in=ids)
    wanted = set(ids)
    moments: dict[int, tuple[int, _Moment]] = {
        pk: (bow, _Moment(epoch_s(at)))
        for pk, bow, at in rows.values_list("pk", "bow_id", "signed_at")
        if bow in wanted
    }
    taken = ResultMeasurement.objects.filter(result__in=rows, position="")
    for pk, kind, found, left, resolution in taken.values_list(
        "result_id", "kind", "as_found", "as_left", "tool__resolution"
    ):
        if pk in moments and dimension_of(kind) == Dimension.LENGTH:
            moment = moments[pk][1]
            moment.resolution[kind] = resolution or DEFAULT_RESOLUTION_M
            if found is not None:
                moment.found[kind] = found
            if left is not None:
                moment.left[kind] = left
    grouped: dict[int, list[_Moment]] = defaultdict(list)
    for bow, moment in moments.values():
        grouped[bow].append(moment)
    return grouped


def _reference_sets(ids: list[int], now: datetime) -> dict[int, list[_Moment]]:
    """Reference sets that somebody measured on the bow; a maker's sheet measured nothing."""
    rows = ReferenceSet.objects.exclude(origin=Origin.MAKER).filter(taken_at__lte=now)
    if len(ids) <= MOST_NAMED:
        rows = rows.filter(bow__in=ids)
    moments = {pk: (bow, _Moment(epoch_s(at))) for pk, bow, at in rows.values_list("pk", "bow_id", "taken_at")}
    taken = ReferenceMeasurement.objects.filter(reference_set__in=rows, position="")
    for pk, kind, value, resolution in taken.values_list("reference_set_id", "kind", "value", "tool__resolution"):
        if dimension_of(kind) == Dimension.LENGTH:
            moments[pk][1].left[kind] = value
            moments[pk][1].resolution[kind] = resolution or DEFAULT_RESOLUTION_M
    grouped: dict[int, list[_Moment]] = defaultdict(list)
    for bow, moment in moments.values():
        grouped[bow].append(moment)
    return grouped


def _breaks(ids: list[int]) -> dict[int, list[float]]:
    """Instants at which somebody changed what a bow measures: cords put on, taken off, or reset."""
    fittings, resets = Fitting.objects.all(), CordReset.objects.all()
    if len(ids) <= MOST_NAMED:
        fittings, resets = fittings.filter(bow__in=ids), resets.filter(fitting__bow__in=ids)
    found: dict[int, list[float]] = defaultdict(list)
    changed = fittings.order_by().values_list("bow_id", "fitted_at", "removed_at")
    reset = ((bow, at, None) for bow, at in resets.values_list("fitting__bow_id", "at"))
    for bow, *instants in chain(changed, reset):
        found[bow] += [epoch_s(at) for at in instants if at is not None]
    return defaultdict(list, {bow: sorted(instants) for bow, instants in found.items()})
