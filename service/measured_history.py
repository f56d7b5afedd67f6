"""A bow's reference measurements over time, each as one small picture against its tolerance band."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from fleet.models import Bow, CordReset, Fitting, ReferenceMeasurement, ResultMeasurement
from fleet.vocabulary import MeasurementKind
from service.orders.wording import label, measured, off_as_read, within
from service.timing.tolerance import ROUNDING_SI
from service.units import Units

WIDTH, HEIGHT = 320.0, 110.0
LEFT, RIGHT, TOP, BOTTOM = 4.0, 6.0, 8.0, 8.0
ROOM_ABOVE = 0.15  # of the range of what is drawn, left free above and below
ONE_DAY_S = 86_400.0


@dataclass(frozen=True)
class Reading:
    """One reading in the picture: its place, its shape, and how it reads in the table."""

    at: datetime
    found: bool
    shown: str
    off: str
    inside: bool
    x: float
    y: float


@dataclass(frozen=True)
class Band:
    """The tolerance band of one reference version: a rectangle with the reference line in its middle."""

    x: float
    width: float
    y: float
    height: float
    middle: float
    said: str


@dataclass(frozen=True)
class Picture:
    """One measurement: bands, resets (places on the x axis) and readings; `said` tells it to those who cannot see."""

    kind: str
    name: str
    bands: tuple[Band, ...]
    resets: tuple[float, ...]
    readings: tuple[Reading, ...]
    said: str


@dataclass(frozen=True)
class History:
    """All pictures of a bow, on one time axis."""

    first: datetime
    last: datetime
    pictures: tuple[Picture, ...]
    resets: tuple[tuple[datetime, str], ...]


def history_of(bow: Bow, now: datetime) -> History | None:
    """The measured past of a bow; None while it has no reference set."""
    references = _references(bow)
    if not references:
        return None
    resets = _resets(bow)
    taken = _results(bow)
    instants = [one.reference_set.taken_at for rows in references.values() for one in rows]
    instants += [one.result.signed_at for rows in taken.values() for one in rows]
    axis = _TimeAxis(min(instants), now)
    wanted = [kind for kind in MeasurementKind.values if kind in references and kind != MeasurementKind.TWISTS]
    system = Units(bow.site.units)
    pictures = tuple(_picture(kind, references[kind], taken[kind], resets, axis, system) for kind in wanted)
    return History(axis.first, axis.last, pictures, tuple(sorted(resets)))


@dataclass(frozen=True)
class _TimeAxis:
    first: datetime
    last: datetime

    def x(self, at: datetime) -> float:
        span = max((self.last - self.first).total_seconds(), ONE_DAY_S)
        share = min(max((at - self.first).total_seconds() / span, 0.0), 1.0)
        return round(LEFT + share * (WIDTH - LEFT - RIGHT), 1)


@dataclass(frozen=True)
class _ValueAxis:
    low: float
    high: float

    def y(self, value: float) -> float:
        return round(HEIGHT - BOTTOM - (value - self.low) / (self.high - self.low) * (HEIGHT - TOP - BOTTOM), 1)


def _references(bow: Bow) -> dict[str, list[ReferenceMeasurement]]:
    rows = ReferenceMeasurement.objects.filter(reference_set__bow=bow, position="", tolerance__gt=0)
    found: dict[str, list[ReferenceMeasurement]] = defaultdict(list)
    for one in rows.select_related("reference_set").order_by("reference_set__version"):
        found[one.kind].append(one)
    return found


def _results(bow: Bow) -> dict[str, list[ResultMeasurement]]:
    found: dict[str, list[ResultMeasurement]] = defaultdict(list)
    rows = ResultMeasurement.objects.filter(result__bow=bow, position="").select_related("result")
    for one in rows.order_by("result__signed_at"):
        found[one.kind].append(one)
    return found


def _resets(bow: Bow) -> list[tuple[datetime, str]]:
    """When stretch began to count anew: twists set, or a cord fitted. Several cords at one instant are one reset."""
    found: dict[datetime, str] = {}
    for reset in CordReset.objects.filter(fitting__bow=bow).order_by("at"):
        found[reset.at] = _("timing set")
    for fitting in Fitting.objects.filter(bow=bow).order_by("fitted_at"):
        found[fitting.fitted_at] = _("cord fitted")
    return list(found.items())


def _picture(
    kind: str,
    references: list[ReferenceMeasurement],
    taken: list[ResultMeasurement],
    resets: list[tuple[datetime, str]],
    axis: _TimeAxis,
    system: Units,
) -> Picture:
    values = [value for one in taken for value in (one.as_found, one.as_left) if value is not None]
    edges = [one.value + sign * one.tolerance for one in references for sign in (-1, 1)]
    low, high = min([*values, *edges]), max([*values, *edges])
    room = ROOM_ABOVE * (high - low)
    scale = _ValueAxis(low - room, high + room)
    readings = tuple(_readings(kind, references, taken, axis, scale, system))
    outside = sum(not one.inside for one in readings)
    said = _("%(name)s: %(count)d readings, %(outside)d outside the tolerance in service") % {
        "name": label(kind),
        "count": len(readings),
        "outside": outside,
    }
    marks = tuple(axis.x(at) for at, _why in resets if at >= axis.first)
    return Picture(kind, label(kind), tuple(_bands(kind, references, axis, scale, system)), marks, readings, said)


def _bands(
    kind: str, references: list[ReferenceMeasurement], axis: _TimeAxis, scale: _ValueAxis, system: Units
) -> Iterable[Band]:
    ends = [one.reference_set.taken_at for one in references[1:]] + [axis.last]
    for one, end in zip(references, ends, strict=True):
        x, top = axis.x(one.reference_set.taken_at), scale.y(one.value + one.tolerance)
        yield Band(
            x=x,
            width=round(max(axis.x(end) - x, 0.0), 1),
            y=top,
            height=round(scale.y(one.value - one.tolerance) - top, 1),
            middle=scale.y(one.value),
            said=f"{measured(kind, one.value, system)} {within(kind, one.tolerance, system)}",
        )


def _readings(
    kind: str,
    references: list[ReferenceMeasurement],
    taken: list[ResultMeasurement],
    axis: _TimeAxis,
    scale: _ValueAxis,
    system: Units,
) -> Iterable[Reading]:
    by_set = {one.reference_set_id: one for one in references}
    for one in taken:
        # Held against the set that its order was issued with.
        reference = by_set.get(one.result.reference_set_id, references[-1])
        for found, value in ((True, one.as_found), (False, one.as_left)):
            if value is None:
                continue
            off = value - reference.value
            yield Reading(
                at=one.result.signed_at,
                found=found,
                shown=measured(kind, value, system),
                off=off_as_read(kind, off, system),
                inside=abs(off) - reference.tolerance <= ROUNDING_SI,
                x=axis.x(one.result.signed_at),
                y=scale.y(value),
            )
