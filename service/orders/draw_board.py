"""What the draw board tells of a bow: let-off, AMO draw length, stop sync, and what a limb-bolt turn does to it."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from fleet.models import Bow
from fleet.vocabulary import IncidentKind, MeasurementKind, Position
from service.closed_orders import peak_weight_per_turn
from service.models import WorkOrder
from service.orders.contents import open_incidents
from service.orders.wording import label, measured, off_as_read, within
from service.timing.drawboard import amo_draw_length_m, let_off_percent, stop_sync_m
from service.timing.slopes import LearnedSlope
from service.timing.tolerance import Reference, check
from service.units import Dimension, Units, format_deviation, format_length, format_quantity, mixed_fraction

BOARD_KINDS = (
    MeasurementKind.PEAK_WEIGHT,
    MeasurementKind.HOLDING_WEIGHT,
    MeasurementKind.LET_OFF,
    MeasurementKind.DRAW_LENGTH,
    MeasurementKind.STOP_SYNC,
    MeasurementKind.LIMB_BOLT_TURNS,
)
FIRST_STOPS = ("together", "upper", "lower")
QUARTER_TURNS = 4


@dataclass(frozen=True)
class BoardReadings:
    """One moment on the board (SI); None was not read. `gap_m` is left at the second stop when the first touches."""

    peak_n: float | None = None
    holding_n: float | None = None
    draw_m: float | None = None
    gap_m: float | None = None
    first_stop: str = ""
    bolt_turns: float | None = None


@dataclass(frozen=True)
class BoardLine:
    """One result in the site's units; `inside` is None where there is no reference to hold it against."""

    name: str
    value: str
    reference: str = ""
    off: str = ""
    inside: bool | None = None


@dataclass(frozen=True)
class BoardSays:
    """The results of one moment, and what is wrong with its readings."""

    lines: tuple[BoardLine, ...]
    problems: tuple[str, ...]
    values: dict[str, float]
    """By measurement kind (SI): what becomes readings of the order."""


def speaks_against_drawing(order: WorkOrder) -> list[str]:
    """Why the bow must not be drawn yet, not on the board either: a cord condemned and still on it, an incident."""
    found = [
        f"{Position(cord.position).label}: {cord.get_finding_display()}"
        for cord in order.cords.filter(replaced=False).exclude(finding="").order_by("position")
    ]
    return found + [str(IncidentKind(kind).label) for kind in sorted(open_incidents(order.bow))]


def board_says(read: BoardReadings, references: dict[str, Reference], system: Units) -> BoardSays:
    """The readings of a moment worked out and held against the references at the bench tolerance."""
    values, problems = _values(read)
    lines = [_line(kind, values[kind], references.get(kind), system) for kind in BOARD_KINDS if kind in values]
    if read.draw_m is not None:
        try:
            amo = format_length(amo_draw_length_m(read.draw_m), system)
            lines.append(BoardLine(_("draw length, AMO (true + 1 3/4 in)"), amo))
        except ValueError as problem:
            problems.append(str(problem))
    return BoardSays(tuple(lines), tuple(problems), values)


def _values(read: BoardReadings) -> tuple[dict[str, float], list[str]]:
    given = {
        MeasurementKind.PEAK_WEIGHT: read.peak_n,
        MeasurementKind.HOLDING_WEIGHT: read.holding_n,
        MeasurementKind.DRAW_LENGTH: read.draw_m,
        MeasurementKind.LIMB_BOLT_TURNS: read.bolt_turns,
    }
    values = {str(kind): value for kind, value in given.items() if value is not None}
    problems: list[str] = []
    if read.peak_n is not None and read.holding_n is not None:
        try:
            values[MeasurementKind.LET_OFF] = let_off_percent(read.peak_n, read.holding_n) / 100.0
        except ValueError:
            problems.append(_("The holding weight is above the peak: read both again, they may be swapped."))
    if read.gap_m is not None and not read.first_stop and read.gap_m > 0:
        problems.append(_("Say which stop touches first: without it the gap has no sign."))
    elif read.first_stop == "together" and read.gap_m:
        problems.append(_("Stops that touch together leave no gap: correct one of the two."))
    elif read.gap_m is not None or read.first_stop == "together":
        values[MeasurementKind.STOP_SYNC] = stop_sync_m(read.gap_m or 0.0, read.first_stop != "lower")
    return values, problems


def _line(kind: str, value: float, reference: Reference | None, system: Units) -> BoardLine:
    name = label(kind)
    if kind == MeasurementKind.STOP_SYNC and value:
        first = _("upper stop first") if value > 0 else _("lower stop first")
        name = f"{name}, {first}"
    shown = measured(kind, value, system)
    if reference is None:
        return BoardLine(name, shown)
    found = check(reference, value)
    wanted = f"{measured(kind, reference.value_si, system)} {within(kind, found.bench_si, system)}"
    return BoardLine(name, shown, wanted, off_as_read(kind, found.deviation_si, system), found.inside_bench)


@dataclass(frozen=True)
class BoltAdvice:
    """What a limb-bolt turn does on this bow, and how many would bring the peak weight back; empty until learned."""

    learned: bool
    per_turn: str
    rests_on: str
    turn: str


def bolt_advice(bow: Bow, peak_n: float | None, references: dict[str, Reference], system: Units) -> BoltAdvice:
    """Learned from closed orders, never assumed."""
    slope = peak_weight_per_turn(bow)
    if slope is None or slope.value == 0:
        return BoltAdvice(learned=False, per_turn="", rests_on="", turn="")
    per_turn = format_deviation(slope.value, Dimension.FORCE, system)
    give_or_take = format_quantity(slope.standard_error, Dimension.FORCE, system)
    said = _("%(weight)s per turn out, give or take %(error)s") % {"weight": per_turn, "error": give_or_take}
    counts = {"own": slope.orders, "mates": slope.mates_orders}
    rests_on = _("closed orders learned from: %(own)d of this bow, %(mates)d of its mates") % counts
    return BoltAdvice(True, said, rests_on, _turn(slope, peak_n, references.get(MeasurementKind.PEAK_WEIGHT)))


def _turn(slope: LearnedSlope, peak_n: float | None, reference: Reference | None) -> str:
    """Quarter turns that would bring the peak back, both bolts alike; empty where it is inside or not read."""
    if peak_n is None or reference is None or check(reference, peak_n).inside_bench:
        return ""
    quarters = round((reference.value_si - peak_n) / slope.value * QUARTER_TURNS)
    if quarters == 0:
        return _("less than a quarter turn away")
    way = pgettext("limb bolt", "out") if quarters > 0 else pgettext("limb bolt", "in")
    turns = mixed_fraction(abs(quarters) / QUARTER_TURNS, QUARTER_TURNS)
    words = ngettext(
        "start from %(turns)s turn %(way)s", "start from %(turns)s turns %(way)s", max(1, abs(quarters) // 4)
    )
    return words % {"turns": turns, "way": way}
