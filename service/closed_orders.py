"""Closed orders as the timing model learns from them: twists put in, and what each measurement did."""

from collections import defaultdict
from collections.abc import Iterable
from functools import lru_cache

import numpy as np
from django.db.models import Q, QuerySet

from fleet.models import Bow, CordReset, ResultMeasurement, SignedResult, SpecSheet
from fleet.vocabulary import Dimension, dimension_of
from service.bow_geometry import geometry_of_bow
from service.timing.geometry import DEFAULT_CORD_DIAMETER_M, Geometry
from service.timing.readings import DEFAULT_RESOLUTION_M, Reading
from service.timing.response import ClosedOrder, LearnedResponse, learn_response
from service.timing.slopes import LearnedSlope, ObservedChange, learn_slopes
from service.timing.twists import TwistedLength, shortening_m
from service.timing.vocabulary import MeasurementKind, Position

TURNS_PER_HALF_TURN = 0.5
LIMB_BOLTS = "limb-bolt turns out"
# What a scale is read to where its resolution is not on record (N): half a pound. Common practice, no source.
DEFAULT_SCALE_RESOLUTION_N = 2.2
# How many standard errors a bolt's response must stand below nought before a technician is told by it.
SURE_BY_ERRORS = 2.0


def learned_response(bow: Bow) -> LearnedResponse:
    """The bow's own response: its geometry with learned arms, and how much a turn shortens each cord."""
    by_bow = closed_orders(bow.spec_sheet)
    mates = [order for other, orders in by_bow.items() if other != bow.pk for order in orders]
    return _learned(geometry_of_bow(bow), _content(by_bow.get(bow.pk, [])), _content(mates))


# One order's twists, changes and errors, each as pairs: what the regression rests on, and nothing else.
Pairs = tuple[tuple[str, float], ...]
Content = tuple[tuple[Pairs, Pairs, Pairs], ...]


def _content(orders: Iterable[ClosedOrder]) -> Content:
    return tuple(
        (
            tuple(one.shortening_by_position_m.items()),
            tuple(one.change_by_kind_m.items()),
            tuple(one.standard_error_by_kind_m.items()),
        )
        for one in orders
    )


@lru_cache(maxsize=256)
def _learned(geometry: Geometry, own: Content, mates: Content) -> LearnedResponse:
    """Remembered by all that it rests on: a technician types a dozen readings, and nothing here changes meanwhile."""
    return learn_response(geometry, _orders(own), _orders(mates))


def _orders(content: Content) -> list[ClosedOrder]:
    return [
        ClosedOrder(
            {Position(place): value for place, value in shortening},
            {MeasurementKind(kind): value for kind, value in changes},
            {MeasurementKind(kind): value for kind, value in errors},
        )
        for shortening, changes, errors in content
    ]


def closed_orders(sheet: SpecSheet) -> dict[int, list[ClosedOrder]]:
    """Closed orders of every bow of a spec sheet in which twists were changed on cords that stayed on."""
    results = _results(sheet, Q(order_number__in=_numbers_with_twists()))
    twists = _twists_put_in(result.order_number for result in results)
    found: dict[int, list[ClosedOrder]] = defaultdict(list)
    for result in results:
        shortening = twists.get(result.order_number, {})
        change, error = _changes(result)
        if shortening and change and not result.cords_changed:
            found[result.bow_id].append(ClosedOrder(shortening, change, error))
    return found


def _numbers_with_twists() -> "QuerySet[CordReset, str]":
    """Numbers of the orders in which somebody counted twists: few among all there are, of whatever make."""
    resets = CordReset.objects.exclude(half_twists=None).exclude(order_number="")
    return resets.values_list("order_number", flat=True)


def _with_bolts_read() -> "QuerySet[ResultMeasurement, int]":
    """Results with a reading of the limb bolts, of whatever make."""
    of_bolts = ResultMeasurement.objects.filter(kind=MeasurementKind.LIMB_BOLT_TURNS)
    return of_bolts.values_list("result", flat=True)


def _results(sheet: SpecSheet, taught: Q) -> list[SignedResult]:
    """Released results of the sheet's bows that may teach something; a make's others are thousands, and stay unread."""
    rows = SignedResult.objects.filter(taught, bow__spec_sheet=sheet).exclude(released_at=None)
    return list(rows.prefetch_related("measurements__tool").order_by("signed_at", "pk"))


def _twists_put_in(numbers: Iterable[str]) -> dict[str, dict[Position, float]]:
    """By how much the formula says that each order's twists shortened each cord (m)."""
    resets = CordReset.objects.filter(order_number__in=set(numbers)).exclude(half_twists=None)
    found: dict[str, dict[Position, float]] = defaultdict(dict)
    for reset in resets.select_related("fitting__cord__spec").prefetch_related("fitting__resets").order_by("at", "pk"):
        before = _half_twists_before(reset)
        if before is None or reset.half_twists is None:
            continue
        spec = reset.fitting.cord.spec
        cord = TwistedLength(spec.length_m, before * TURNS_PER_HALF_TURN, spec.diameter_m or DEFAULT_CORD_DIAMETER_M)
        added = (reset.half_twists - before) * TURNS_PER_HALF_TURN
        found[reset.order_number][Position(reset.fitting.position)] = shortening_m(cord, added)
    return found


def _half_twists_before(reset: CordReset) -> int | None:
    earlier = [one for one in reset.fitting.resets.all() if one.half_twists is not None and one.at < reset.at]
    return max(earlier, key=lambda one: one.at).half_twists if earlier else reset.fitting.half_twists


def _changes(result: SignedResult) -> tuple[dict[MeasurementKind, float], dict[MeasurementKind, float]]:
    change: dict[MeasurementKind, float] = {}
    error: dict[MeasurementKind, float] = {}
    for one in result.measurements.all():
        if one.as_found is None or one.as_left is None or dimension_of(one.kind) != Dimension.LENGTH:
            continue
        kind = MeasurementKind(one.kind)
        resolution = one.tool.resolution if one.tool and one.tool.resolution else DEFAULT_RESOLUTION_M
        change[kind] = one.as_left - one.as_found
        error[kind] = Reading(kind, one.as_found, one.as_left, resolution).standard_error_si
    return change, error


def peak_weight_per_turn(bow: Bow) -> LearnedSlope | None:
    """Peak weight (N) per limb-bolt turn out, learned from closed orders; None until they teach it.

    A bolt turned out relaxes the limb (common practice, no source). A slope that is not below nought beyond doubt is
    noise or a misreading, and a technician told by it could turn the bolts the wrong way.
    """
    own: list[ObservedChange] = []
    mates: list[ObservedChange] = []
    for result in _results(bow.spec_sheet, Q(pk__in=_with_bolts_read())):
        taken = {one.kind: one for one in result.measurements.all()}
        weight, bolts = taken.get(MeasurementKind.PEAK_WEIGHT), taken.get(MeasurementKind.LIMB_BOLT_TURNS)
        if weight is None or bolts is None or result.cords_changed:
            continue
        values = (weight.as_found, weight.as_left, bolts.as_found, bolts.as_left)
        if any(value is None for value in values):
            continue
        turned = (bolts.as_left or 0.0) - (bolts.as_found or 0.0)
        if turned:
            resolution = weight.tool.resolution if weight.tool and weight.tool.resolution else None
            error = float(np.sqrt(2.0)) * (resolution or DEFAULT_SCALE_RESOLUTION_N)
            change = (weight.as_left or 0.0) - (weight.as_found or 0.0)
            (own if result.bow_id == bow.pk else mates).append(ObservedChange({LIMB_BOLTS: turned}, change, error))
    slopes = learn_slopes([LIMB_BOLTS], own, mates)
    slope = slopes[0] if slopes else None
    if slope is None or slope.value + SURE_BY_ERRORS * slope.standard_error >= 0.0:
        return None
    return slope
