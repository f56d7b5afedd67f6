"""How each reference measurement and each arm is taken: from where to where, with what, to what, and what goes wrong.

Common practice, no source. The drawings are in templates/measure/figures, one for each entry, under its name.
"""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.vocabulary import Arm, Dimension, MeasurementKind, dimension_of
from service.measuring import WHERE_TO_MEASURE
from service.units import Units

Text = str | Promise

RULE, BOARD, SCALE, SQUARE = _("steel rule or tape"), _("draw board"), _("draw-board scale"), _("bow square")
CALLIPER = _("calliper, or a steel rule")


@dataclass(frozen=True)
class HowTo:
    """One entry: `name` is its anchor and its drawing's; `letters` explains the letters in the drawing."""

    name: str
    title: Text
    where: Text
    letters: Text
    tool: Text
    errors: tuple[Text, ...]
    reads_to: dict[str, Text]
    is_arm: bool = False

    @property
    def figure(self) -> str:
        """The template of its drawing."""
        return f"measure/figures/{self.name}.html"


TO_A_32ND: dict[str, Text] = {Units.IMPERIAL: _("1/32 in"), Units.METRIC: _("0.5 mm")}
TO_A_16TH: dict[str, Text] = {Units.IMPERIAL: _("1/16 in"), Units.METRIC: _("1 mm")}
TO_A_HALF_POUND: dict[str, Text] = {Units.IMPERIAL: _("1/2 lb"), Units.METRIC: _("2 N")}
TO_A_PERCENT: dict[str, Text] = {Units.IMPERIAL: _("1 %"), Units.METRIC: _("1 %")}
TO_A_QUARTER_TURN: dict[str, Text] = {Units.IMPERIAL: _("1/4 turn"), Units.METRIC: _("1/4 turn")}
TO_A_HALF_TURN: dict[str, Text] = {Units.IMPERIAL: _("1/2 turn"), Units.METRIC: _("1/2 turn")}
TO_A_MM: dict[str, Text] = {Units.IMPERIAL: _("1/32 in"), Units.METRIC: _("1 mm")}

UNITS_SHOWN: dict[str, dict[str, Text]] = {
    Dimension.LENGTH: {Units.IMPERIAL: _("inches"), Units.METRIC: _("millimetres")},
    Dimension.FORCE: {Units.IMPERIAL: _("pounds"), Units.METRIC: _("newtons")},
    Dimension.SHARE: {Units.IMPERIAL: _("per cent"), Units.METRIC: _("per cent")},
    Dimension.TURNS: {Units.IMPERIAL: _("turns"), Units.METRIC: _("turns")},
}


def unit_of(how: HowTo, units: str) -> Text:
    """The unit in which an entry is written down at a site."""
    if how.name == Arm.HOLE_TRAVEL:
        return _("inches or millimetres per radian, with its sign")
    return UNITS_SHOWN[Dimension.LENGTH if how.is_arm else dimension_of(how.name)][units]


def _measurement(kind: MeasurementKind, letters: Text, tool: Text, reads_to: dict[str, Text], *errors: Text) -> HowTo:
    return HowTo(kind.value, kind.label, WHERE_TO_MEASURE[kind], letters, tool, errors, reads_to)


_HOLE_ERRORS = (
    _("read to another cable than the record names"),
    _("read to the hole's rim instead of its centre"),
    _("upper and lower swapped when written down"),
)
_MARK_ERRORS = (
    _("read to another edge of the limb than last time"),
    _("looked at aslant: keep the eye square to the cam"),
    _("the sign lost: a mark past the edge is below nought"),
)
_HOLE_LETTERS = _("A: from the cable to the centre of the hole, square to the cable")
_MARK_LETTERS = _("A: from the limb's edge to the mark on the cam")

MEASUREMENTS: tuple[HowTo, ...] = (
    _measurement(
        MeasurementKind.AXLE_TO_AXLE, _("A: centre of one axle to centre of the other"), RULE, TO_A_32ND,
        _("measured to the axle's end instead of its centre"), _("the tape bent over a cam or cable"),
        _("read an inch off, with the hook of the tape at the wrong mark"),
    ),
    _measurement(
        MeasurementKind.BRACE_HEIGHT, _("A: throat of the grip to the string, square to the string"),
        _("bow square or rule"), TO_A_32ND,
        _("not square to the string"), _("read to the shelf instead of the throat"),
        _("another point of the throat than last time"),
    ),
    _measurement(
        MeasurementKind.DRAW_LENGTH, _("A: throat of the grip to the string at full draw (true); AMO adds 1 3/4 in"),
        BOARD, TO_A_16TH,
        _("AMO written down as true, 1 3/4 in too much"), _("not drawn firmly against the stops"),
        _("the hook pulls above or below the nocking point"),
    ),
    _measurement(
        MeasurementKind.PEAK_WEIGHT, _("A: the scale's highest reading while the string is drawn"), SCALE,
        TO_A_HALF_POUND,
        _("read while letting down, where friction makes it less"), _("scale overdue for calibration"),
        _("scale not set to nought with its hook hanging"),
    ),
    _measurement(
        MeasurementKind.HOLDING_WEIGHT, _("A: the scale's reading at full draw, against the stops"), SCALE,
        TO_A_HALF_POUND,
        _("pulled past the first touch into the stops"), _("read before the valley's lowest point"),
        _("swapped with the peak when written down"),
    ),
    _measurement(
        MeasurementKind.LET_OFF, _("A: peak weight; B: holding weight; let-off is 100 × (1 − B ÷ A)"),
        _("worked out from peak and holding weight"), TO_A_PERCENT,
        _("peak and holding taken on different days or settings"),
    ),
    _measurement(
        MeasurementKind.TILLER, _("A and B: string to limb where it leaves the riser, square to the string; A − B"),
        SQUARE, TO_A_32ND,
        _("upper and lower swapped, so that the sign is wrong"), _("limb bolts not turned alike beforehand"),
    ),
    _measurement(
        MeasurementKind.NOCKING_HEIGHT, _("A: from square on the rest up to the nocking point"), SQUARE, TO_A_32ND,
        _("the square stands on the shelf and not on the rest"), _("read to the top of the locator in one year and to "
        "its lower edge in the next"),
    ),
    _measurement(
        MeasurementKind.CENTRE_SHOT, _("A: side of the riser to the centre of the arrow, at the rest"), RULE, TO_A_32ND,
        _("read at the point instead of at the rest"), _("read to the arrow's side instead of its centre"),
    ),
    _measurement(
        MeasurementKind.PEEP_HEIGHT, _("A: nocking point to the centre of the peep, along the string"), RULE, TO_A_32ND,
        _("read after the string was twisted and the peep had turned"), _("read to the rim instead of the centre"),
    ),
    _measurement(
        MeasurementKind.LIMB_BOLT_TURNS, _("A: turns out from bottomed, both bolts alike"),
        _("hex key, with a mark on it"), TO_A_QUARTER_TURN,
        _("turned beyond the maker's limit"), _("counted from another place than bottomed"),
        _("the two bolts counted apart"),
    ),
    _measurement(MeasurementKind.HOLE_DISTANCE_UPPER, _HOLE_LETTERS, CALLIPER, TO_A_32ND, *_HOLE_ERRORS),
    _measurement(MeasurementKind.HOLE_DISTANCE_LOWER, _HOLE_LETTERS, CALLIPER, TO_A_32ND, *_HOLE_ERRORS),
    _measurement(MeasurementKind.TIMING_MARK_UPPER, _MARK_LETTERS, RULE, TO_A_32ND, *_MARK_ERRORS),
    _measurement(MeasurementKind.TIMING_MARK_LOWER, _MARK_LETTERS, RULE, TO_A_32ND, *_MARK_ERRORS),
    _measurement(
        MeasurementKind.STOP_SYNC, _("A: gap left at the second stop when the first one touches"),
        _("draw board, and a rule or feeler gauge"), TO_A_32ND,
        _("drawn past the first touch, which closes the gap"), _("which stop touches first not written down"),
    ),
    _measurement(
        MeasurementKind.TWISTS, _("A: one whole turn; count from one end loop"), _("eye and hand"), TO_A_HALF_TURN,
        _("half turns counted as whole ones"), _("counted with the cord slack, where twist runs into the loops"),
        _("a yoke: legs and single end counted together"),
    ),
)  # fmt: skip

_BESIDE_THE_AXLE = _("at brace, never drawn: from the axle's centre, square to the cord's line")
ARMS: tuple[HowTo, ...] = (
    HowTo(
        Arm.STRING.value, Arm.STRING.label, _BESIDE_THE_AXLE, _("A: axle to the line of the string"), CALLIPER,
        (_("not square to the string"), _("read to the string's far side: to its middle is right")), TO_A_MM, True,
    ),
    HowTo(
        Arm.TAKE_UP.value, Arm.TAKE_UP.label, _BESIDE_THE_AXLE,
        _("A: axle to the line of the cable that this cam takes up when drawn"), CALLIPER,
        (_("read to the other cable"), _("read beside the cable guard, where the cable leans")), TO_A_MM, True,
    ),
    HowTo(
        Arm.LET_OUT.value, Arm.LET_OUT.label, _BESIDE_THE_AXLE,
        _("A: axle to the line of the cable that this cam lets out when drawn; on a single cam the string's other end"),
        CALLIPER, (_("taken for the take-up arm: it is the shorter one on a binary cam"),), TO_A_MM, True,
    ),
    HowTo(
        Arm.HOLE_TRAVEL.value, Arm.HOLE_TRAVEL.label,
        _("at brace: along the cable, from where it leaves the cam to the foot of the reference hole"),
        _("A: along the cable; plus where turning the cam the string's way makes the hole distance grow"), CALLIPER,
        (_("the sign: turn the cam a little in the press, or compare two results"), _("another cable than the one "
         "that the hole distance is read to")), TO_A_MM, True,
    ),
    HowTo(
        Arm.MARK_RADIUS.value, Arm.MARK_RADIUS.label, _("at brace: from the axle's centre to the timing mark"),
        _("A: axle to mark"), CALLIPER, (_("read to the limb's edge instead of the mark"),), TO_A_MM, True,
    ),
)  # fmt: skip
