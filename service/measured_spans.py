"""Spans between two measurements of a bow in which nothing but use moved it: as left, then next as found.

A span begins with what the bench left (or with a reference set that was measured) and ends with what the next signed
order found. A reset, a cord changed or put on in between breaks it: then the change is the bench's, not the cords'.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime

from fleet.models import CordReset, Fitting, ReferenceMeasurement, ReferenceSet, ResultMeasurement, SignedResult
from fleet.vocabulary import Origin
from service.fitted import MOST_NAMED
from service.instants import epoch_s
from service.timing.readings import DEFAULT_RESOLUTION_M, Reading
from service.timing.vocabulary import MeasurementKind

KINEMATIC = frozenset(
    {
        MeasurementKind.AXLE_TO_AXLE,
        MeasurementKind.BRACE_HEIGHT,
        MeasurementKind.HOLE_DISTANCE_UPPER,
        MeasurementKind.HOLE_DISTANCE_LOWER,
        MeasurementKind.TIMING_MARK_UPPER,
        MeasurementKind.TIMING_MARK_LOWER,
    }
)
"""What can tell a cord's stretch. Brace height tells a recurve's; on a compound the timing model leaves it aside."""


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
        start: _Moment | None = None
        # Two of one instant stay in the order in which they were entered, whatever order the database gives.
        for one in sorted([*moments, *sets[bow_id]], key=lambda one: one.at_s):
            untouched = not _between(resets, one.at_s, one.at_s, inclusive=True)
            if untouched:
                # Where nothing was reset, what was found stands.
                one.left = {**one.found, **one.left}
            if start is None or _between(resets, start.at_s, one.at_s):
                start = one if one.left else None
                continue
            if untouched and not start.left.keys() <= one.left.keys():
                # A quick look at some of the measurements: the span goes on until all are read again.
                continue
            readings = _readings(start, one)
            if readings and one.at_s > start.at_s:
                yield Span(bow_id, start.at_s, one.at_s, readings)
            start = one if one.left else None


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
        for pk, bow, at in rows.order_by("pk").values_list("pk", "bow_id", "signed_at")
        if bow in wanted
    }
    taken = ResultMeasurement.objects.filter(result__in=rows, position="")
    for pk, kind, found, left, resolution in taken.values_list(
        "result_id", "kind", "as_found", "as_left", "tool__resolution"
    ):
        if pk in moments and kind in KINEMATIC:
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
    in_order = rows.order_by("pk").values_list("pk", "bow_id", "taken_at")
    moments = {pk: (bow, _Moment(epoch_s(at))) for pk, bow, at in in_order}
    taken = ReferenceMeasurement.objects.filter(reference_set__in=rows, position="")
    for pk, kind, value, resolution in taken.values_list("reference_set_id", "kind", "value", "tool__resolution"):
        if kind in KINEMATIC:
            moments[pk][1].left[kind] = value
            moments[pk][1].resolution[kind] = resolution or DEFAULT_RESOLUTION_M
    grouped: dict[int, list[_Moment]] = defaultdict(list)
    for bow, moment in moments.values():
        grouped[bow].append(moment)
    return grouped


def _breaks(ids: list[int]) -> dict[int, list[float]]:
    """Instants at which somebody changed what a bow measures: cords put on, taken off, or reset.

    A reset under a signed order counts at its signature: the measurements beside it were found before and left after.
    """
    fittings, resets, results = Fitting.objects.all(), CordReset.objects.all(), SignedResult.objects.all()
    if len(ids) <= MOST_NAMED:
        fittings, resets = fittings.filter(bow__in=ids), resets.filter(fitting__bow__in=ids)
        results = results.filter(bow__in=ids)
    signed = {(bow, number): at for bow, number, at in results.values_list("bow_id", "order_number", "signed_at")}
    found: dict[int, list[float]] = defaultdict(list)
    for bow, fitted_at, removed_at in fittings.order_by().values_list("bow_id", "fitted_at", "removed_at"):
        found[bow] += [epoch_s(at) for at in (fitted_at, removed_at) if at is not None]
    for bow, number, at in resets.values_list("fitting__bow_id", "order_number", "at"):
        found[bow].append(epoch_s(signed.get((bow, number), at)))
    return defaultdict(list, {bow: sorted(instants) for bow, instants in found.items()})
