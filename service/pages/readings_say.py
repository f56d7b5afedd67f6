"""What the readings in an order's form say, typed or kept: which cord moved, its twists, and what is still off."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.models import MeasuringTool
from service.models import WorkOrder
from service.orders.bench_timing import BenchTiming, Found, timing_of
from service.orders.steps import references_of
from service.orders.wording import label, off_as_read, within
from service.pages.order_form import OrderForm
from service.timing.tolerance import ToleranceReport, check_all
from service.timing.vocabulary import MeasurementKind
from service.units import Units


@dataclass(frozen=True)
class LeftSays:
    """As left against the bench tolerance: how many are inside, what is still off and by how much, what is missing."""

    inside: int
    wanted: int
    off: tuple[str, ...]
    missing: tuple[str, ...]

    @property
    def may_close(self) -> bool:
        """Whether every reference measurement is read and inside."""
        return not self.off and not self.missing


@dataclass(frozen=True)
class ReadingsSay:
    """`timing` is None before anything was found; `problem` says what in the book keeps it from being worked out."""

    timing: BenchTiming | None
    problem: str
    left: LeftSays | None
    unreadable: tuple[str, ...]


def readings_say(order: WorkOrder, form: OrderForm) -> ReadingsSay:
    """What the readings of a form say; a field that cannot be read is left out and named."""
    resolutions = dict(MeasuringTool.objects.filter(site=order.site).values_list("code", "resolution"))
    references, system = references_of(order.reference_set), Units(order.site.units)
    found: dict[str, Found] = {}
    left: dict[MeasurementKind, float] = {}
    for line, reading in zip(form.lines, form.readings, strict=True):
        if line.position:
            continue
        if reading.as_found is not None and not line.found.error:
            found[line.kind] = Found(reading.as_found, resolutions.get(line.tool), line.read_twice)
        if reading.as_left is not None and not line.left.error:
            left[MeasurementKind(line.kind)] = reading.as_left
    timing, problem = None, ""
    try:
        timing = timing_of(order.bow, references, found, system)
    except ValueError as said:
        problem = str(said)
    return ReadingsSay(timing, problem, _left(check_all(references, left), system) if left else None, _unreadable(form))


def _unreadable(form: OrderForm) -> tuple[str, ...]:
    return tuple(box.title for line in form.lines for box in (line.found, line.left) if box.error)


def _left(report: ToleranceReport, system: Units) -> LeftSays:
    off = tuple(
        _("%(name)s: %(off)s from its reference, %(beyond)s outside the bench tolerance of %(tolerance)s")
        % {
            "name": label(one.kind),
            "off": off_as_read(one.kind, one.deviation_si, system),
            "beyond": off_as_read(one.kind, one.too_far_si, system),
            "tolerance": within(one.kind, one.bench_si, system),
        }
        for one in report.still_off
    )
    wanted = len(report.checks) + len(report.missing)
    return LeftSays(len(report.checks) - len(off), wanted, off, tuple(label(kind) for kind in report.missing))
