"""Quantities at the border: what a shop types and reads, against the SI floats used everywhere inside.

This is the project's one pint registry. Forms, CSV, the API and paper come here; nothing else converts.
Inside, a quantity is a plain float in the SI unit of its dimension: m, N, K, rad, 1/m; a share is a fraction
of one (let-off 0.80), turns are whole turns. Conversion factors are read from pint once per unit, so that a
file of 100,000 rows costs a multiplication per cell. A "lb" is the pound-force, as the trade means it.

Every refusal is a `QuantityError` naming the value, the allowed range, the unit and the next step.
"""

import math
import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache

import pint

from service import quantity_refusals as refusals
from service.quantity_refusals import QuantityError as QuantityError
from service.said import Said, mark


class Units(StrEnum):
    """The units that a site reads and types."""

    IMPERIAL = "imperial"
    METRIC = "metric"


class Dimension(StrEnum):
    """What a number measures. The comment gives the unit of the float inside."""

    LENGTH = mark("length")  # m
    FORCE = mark("force")  # N
    TEMPERATURE = mark("temperature")  # K
    ANGLE = mark("angle")  # rad
    SHARE = mark("share")  # fraction of one
    TURNS = mark("turns")  # whole turns
    TWIST_RATE = mark("twist rate")  # turns per m


@dataclass(frozen=True)
class _UnitName:
    """A unit of our vocabulary: its header suffix, pint's name for it, how it is printed and typed."""

    suffix: str
    pint_name: str
    dimension: Dimension
    symbol: str
    typed: tuple[str, ...]


_UNIT_NAMES = (
    _UnitName("in", "inch", Dimension.LENGTH, "in", ("in.", "inch", "inches", '"', "″", "”", "''")),
    _UnitName("mm", "millimeter", Dimension.LENGTH, "mm", ("millimeter", "millimetre")),
    _UnitName("cm", "centimeter", Dimension.LENGTH, "cm", ("centimeter", "centimetre")),
    _UnitName("m", "meter", Dimension.LENGTH, "m", ("meter", "metre")),
    _UnitName("lb", "pound_force", Dimension.FORCE, "lb", ("lb.", "lbs", "lbf", "pound", "pounds", "#")),
    _UnitName("n", "newton", Dimension.FORCE, "N", ("newton", "newtons")),
    _UnitName("kgf", "kilogram_force", Dimension.FORCE, "kgf", ("kg", "kp")),
    _UnitName("c", "degC", Dimension.TEMPERATURE, "°C", ("°c", "degc", "celsius")),
    _UnitName("f", "degF", Dimension.TEMPERATURE, "°F", ("°f", "degf", "fahrenheit")),
    _UnitName("k", "kelvin", Dimension.TEMPERATURE, "K", ("kelvin",)),
    _UnitName("deg", "degree", Dimension.ANGLE, "°", ("°", "degree", "degrees")),
    _UnitName("rad", "radian", Dimension.ANGLE, "rad", ()),
    _UnitName("percent", "percent", Dimension.SHARE, "%", ("%", "pct")),
    _UnitName("turns", "count", Dimension.TURNS, "turns", ("turn", "twists", "twist")),
    _UnitName("per_in", "1/inch", Dimension.TWIST_RATE, "per in", ("/in", "per in", "per inch")),
    _UnitName("per_m", "1/meter", Dimension.TWIST_RATE, "per m", ("/m", "per m", "per metre")),
)
_BY_SUFFIX = {unit.suffix: unit for unit in _UNIT_NAMES}
_SUFFIXES_LONGEST_FIRST = sorted(_BY_SUFFIX, key=len, reverse=True)

_SHOWN = {
    Units.IMPERIAL: {
        Dimension.LENGTH: "in",
        Dimension.FORCE: "lb",
        Dimension.TEMPERATURE: "f",
        Dimension.ANGLE: "deg",
        Dimension.SHARE: "percent",
        Dimension.TURNS: "turns",
        Dimension.TWIST_RATE: "per_in",
    },
    Units.METRIC: {
        Dimension.LENGTH: "mm",
        Dimension.FORCE: "n",
        Dimension.TEMPERATURE: "c",
        Dimension.ANGLE: "deg",
        Dimension.SHARE: "percent",
        Dimension.TURNS: "turns",
        Dimension.TWIST_RATE: "per_m",
    },
}

RULE_DENOMINATOR = 32  # the trade reads a rule to 1/32 in
TURN_DENOMINATOR = 2  # a bench counts twists in half turns
KEPT_DENOMINATOR = 64  # half of 1/32 in, the finest division of a bench rule
_FINE_BELOW_MM = 10.0  # below this a gap or offset is read with callipers, above it with a rule
_RULE_MM = Fraction(1, 2)
_STEP = {"in": Fraction(1, RULE_DENOMINATOR), "turns": Fraction(1, 4), "n": Fraction(1, 2)}
_DECIMAL_STEP = Fraction(1, 10)
_ROUNDING_SLACK = 1e-9  # so that 1/16 in held as a float still counts as a whole sixteenth


# --- conversion --------------------------------------------------------------------------------


@cache
def registry() -> "pint.UnitRegistry[float]":
    """The project's one pint registry, built on first use."""
    return pint.UnitRegistry()


@cache
def _factor_and_offset(unit: str) -> tuple[float, float]:
    """SI value = typed value * factor + offset. Only a temperature scale has an offset."""
    name = _known(unit).pint_name
    offset = float(registry().Quantity(0.0, name).to_base_units().magnitude)
    step = f"delta_{name}" if offset else name
    return float(registry().Quantity(1.0, step).to_base_units().magnitude), offset


def to_si(value: float, unit: str) -> float:
    """`value` in `unit` (a header suffix: "in", "mm", "lb", "c", ...) as an SI float."""
    factor, offset = _factor_and_offset(unit)
    return value * factor + offset


def from_si(value: float, unit: str) -> float:
    """An SI float as a number in `unit`; the inverse of `to_si`."""
    factor, offset = _factor_and_offset(unit)
    return (value - offset) / factor


def difference_from_si(difference: float, unit: str) -> float:
    """A difference of two SI values in `unit`: 5 K apart are 9 °F apart, whatever the scale's zero."""
    return difference / _factor_and_offset(unit)[0]


def difference_to_si(difference: float, unit: str) -> float:
    """A difference in `unit` as one of SI values; the inverse of `difference_from_si`."""
    return difference * _factor_and_offset(unit)[0]


def dimension_of(unit: str) -> Dimension:
    """What a header suffix measures: `dimension_of("lb")` is FORCE."""
    return _known(unit).dimension


def unit_shown(dimension: Dimension, units: Units) -> str:
    """The header suffix of the unit in which a site reads this dimension."""
    return _SHOWN[units][dimension]


def symbol(unit: str) -> str:
    """How the unit of a header suffix is printed: `symbol("c")` is "°C"."""
    return _known(unit).symbol


def suffixes(dimension: Dimension) -> tuple[str, ...]:
    """The header suffixes that measure this dimension, the most usual first."""
    return tuple(unit.suffix for unit in _UNIT_NAMES if unit.dimension is dimension)


def split_header(name: str) -> tuple[str, str | None]:
    """A column name split into field and unit: "brace_height_in" -> ("brace_height", "in").

    Case, spaces and brackets do not matter ("Brace height (mm)"). The longest suffix wins ("twists_per_in" is
    per inch). Only the letters count, so a field of the vocabulary must not itself end in a unit suffix.
    """
    field = re.sub(r"[^0-9a-z]+", "_", name.strip().lower()).strip("_")
    for suffix in _SUFFIXES_LONGEST_FIRST:
        if field.endswith(f"_{suffix}"):
            return field.removesuffix(f"_{suffix}"), suffix
    return field, None


def _known(unit: str) -> _UnitName:
    try:
        return _BY_SUFFIX[unit]
    except KeyError:
        raise refusals.no_such_unit(unit, ", ".join(_BY_SUFFIX)) from None


# --- reading what a shop types -----------------------------------------------------------------

_SPACES = re.compile(r"\s+")  # in Python's str patterns \s covers no-break and thin spaces
_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_TYPED = re.compile(
    r"""
    (?P<sign>[+-]?)\ *
    (?:
        (?:(?P<whole>\d{1,9})(?:\ +|\ *-\ *))?(?P<top>\d{1,9})\ */\ *(?P<bottom>\d{1,9})
      | (?P<decimal>\d{1,15}(?:[.,]\d{0,15})?|[.,]\d{1,15})
    )
    \ *(?P<unit>\D.*)?
    """,
    re.VERBOSE | re.ASCII,
)
_COULD_BE_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")


def read_quantity(text: str, unit: str, *, name: str, low: float, high: float) -> float:
    """What a shop typed as an SI float: "33 1/4", "33-1/4 in", "84,5 cm", "60 lb", "74 F".

    `unit` is the header suffix meant when none is typed; another unit of the same dimension may be typed.
    `name` is what the reader calls the field. `low` and `high` are SI and inclusive.
    Raises QuantityError for text that is no number, a unit of another dimension, or a value out of range.
    """
    known = _known(unit)
    allowed = _allowed(low, high, unit)
    typed = _plain(text)
    match = _TYPED.fullmatch(typed)
    if match is None:
        raise refusals.no_quantity(name, text, allowed, _example(low, high, unit))
    unit_typed = _unit_typed(match["unit"], known, name, text, allowed)
    # Half a unit in the twelfth place, so that a limit typed in its own unit is inside it.
    slack = 1e-12 * max(abs(low), abs(high))
    values = [to_si(number, unit_typed) for number in _readings(match, name, text, allowed)]
    fitting = [value for value in values if low - slack <= value <= high + slack]
    if len(fitting) == 1:
        return fitting[0]
    if len(fitting) > 1:
        one, other = (_trimmed(from_si(value, unit_typed)) for value in values)
        raise refusals.two_readings(name, text, allowed, (one, other), symbol(unit_typed))
    understood = f"{_trimmed(from_si(values[0], unit))} {known.symbol}"
    raise refusals.out_of_range(name, text, allowed, understood)


def _plain(text: str) -> str:
    """One spelling for spaces, minus signs and fractions."""
    for glyph, spelled in _VULGAR.items():
        text = text.replace(glyph, f" {spelled}")
    text = text.replace("\N{FRACTION SLASH}", "/").replace("\N{MINUS SIGN}", "-").replace("\N{EN DASH}", "-")
    return _SPACES.sub(" ", text).strip()


def _readings(match: re.Match[str], name: str, text: str, allowed: Said) -> tuple[float, ...]:
    """The numbers that the text can mean: two where a comma may be a decimal or part the thousands."""
    sign = -1.0 if match["sign"] == "-" else 1.0
    if match["decimal"] is not None:
        decimal = sign * float(match["decimal"].replace(",", "."))
        if _COULD_BE_THOUSANDS.fullmatch(match["decimal"]):
            return decimal, sign * float(match["decimal"].replace(",", ""))
        return (decimal,)
    whole, top, bottom = int(match["whole"] or 0), int(match["top"]), int(match["bottom"])
    if top >= bottom:  # also a slip for "33 1/4" typed as "331/4"
        raise refusals.no_fraction(name, text, allowed, f"{top}/{bottom}")
    return (sign * (whole + top / bottom),)


def _unit_typed(typed: str | None, meant: _UnitName, name: str, text: str, allowed: Said) -> str:
    if typed is None:
        return meant.suffix
    spelled = typed.strip().lower()
    for candidate in _UNIT_NAMES:
        same_dimension = candidate.dimension is meant.dimension
        if same_dimension and spelled in (candidate.suffix, candidate.symbol.lower(), *candidate.typed):
            return candidate.suffix
    accepted = ", ".join(symbol(suffix) for suffix in suffixes(meant.dimension))
    raise refusals.no_unit(name, text, allowed, typed.strip(), meant.dimension.value, accepted)


def _allowed(low: float, high: float, unit: str) -> Said:
    return refusals.between(_trimmed(from_si(low, unit)), _trimmed(from_si(high, unit)), symbol(unit))


def _example(low: float, high: float, unit: str) -> str:
    if unit == "in":
        return f"{mixed_fraction(from_si((low + high) / 2, unit), 4)} in"
    return f"{_trimmed(round(from_si((low + high) / 2, unit)))} {symbol(unit)}"


def _trimmed(value: float) -> str:
    """At most four decimals, without the zeros that carry nothing."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


# --- writing what a shop reads -----------------------------------------------------------------


def mixed_fraction(value: float, denominator: int) -> str:
    """The nearest 1/denominator as a reduced mixed fraction in ASCII: 33.25 -> "33 1/4", -0.03 -> "-1/32"."""
    size = _nearest(value, Fraction(1, denominator))
    return ("-" if value < 0 and size else "") + _spell(size)


def format_twists(turns: float) -> str:
    """Whole turns in a cord, to the half turn that a bench counts: 24.5 -> "24 1/2"."""
    return mixed_fraction(turns, TURN_DENOMINATOR)


def format_length(
    length_m: float, units: Units, denominator: int = RULE_DENOMINATOR, *, decimal_mark: str = "."
) -> str:
    """A length as read off a rule: "33 1/4 in" to 1/denominator; "844.5 mm" to 0.5, below 10 mm to 0.1."""
    if units is Units.IMPERIAL:
        return f"{mixed_fraction(from_si(length_m, 'in'), denominator)} in"
    size = from_si(length_m, "mm")
    step = _DECIMAL_STEP if abs(size) < _FINE_BELOW_MM else _RULE_MM
    shown = _number_shown(_nearest(size, step), "mm", decimal_mark)
    return f"-{shown}" if size < 0 and _reads_as_some(shown) else shown


def format_quantity(
    value: float, dimension: Dimension, units: Units, denominator: int = RULE_DENOMINATOR, *, decimal_mark: str = "."
) -> str:
    """An SI value as the site reads it, with its unit: lb, temperatures, percent to 0.1; N to 0.5."""
    if dimension is Dimension.LENGTH:
        return format_length(value, units, denominator, decimal_mark=decimal_mark)
    unit = unit_shown(dimension, units)
    number = from_si(value, unit)
    shown = _number_shown(_nearest(number, _STEP.get(unit, _DECIMAL_STEP)), unit, decimal_mark)
    return f"-{shown}" if number < 0 and _reads_as_some(shown) else shown


def format_deviation(
    delta: float, dimension: Dimension, units: Units, denominator: int = RULE_DENOMINATOR, *, decimal_mark: str = "."
) -> str:
    """A difference of two SI values with its sign: "+1/32 in", "-1.5 mm", and "0" when it reads as none."""
    unit = unit_shown(dimension, units)
    step = Fraction(1, denominator) if unit == "in" else _STEP.get(unit, _DECIMAL_STEP)
    size = _nearest(delta / _factor_and_offset(unit)[0], step)
    if size == 0:
        return "0"
    return ("-" if delta < 0 else "+") + _number_shown(size, unit, decimal_mark)


def format_tolerance(tolerance: float, dimension: Dimension, units: Units, *, decimal_mark: str = ".") -> str:
    """A tolerance as "±1/16 in", rounded down: what is printed is never laxer than what is checked.

    Inches go to 1/64 (half of 1/32). A tolerance finer than the last printed place is given in decimals.
    """
    unit = unit_shown(dimension, units)
    size = _finite(tolerance) / _factor_and_offset(unit)[0]
    if size < 0:
        raise refusals.below_zero(f"{_trimmed(size)} {symbol(unit)}")
    step = Fraction(1, KEPT_DENOMINATOR) if unit == "in" else _STEP.get(unit, _DECIMAL_STEP)
    steps = math.floor(size / float(step) + _ROUNDING_SLACK)
    if steps == 0 and size > 0:
        return f"±{size:.2g} {symbol(unit)}".replace(".", decimal_mark, 1)
    shown = _number_shown(steps * step, unit, decimal_mark)
    return "±" + shown.replace(f"{decimal_mark}0", "")


def _nearest(value: float, step: Fraction) -> Fraction:
    """The magnitude of a value to the nearest step, halves up."""
    return math.floor(abs(_finite(value)) / float(step) + 0.5 + _ROUNDING_SLACK) * step


def _number_shown(size: Fraction, unit: str, decimal_mark: str) -> str:
    """A magnitude with its unit: rules and turns in fractions, all else with one decimal."""
    if unit == "turns":
        return f"{_spell(size)} {'turn' if 0 < size <= 1 else 'turns'}"
    if unit == "in":
        return f"{_spell(size)} in"
    number = f"{float(size):.1f}".replace(".", decimal_mark)
    if unit == "mm":
        number = number.removesuffix(f"{decimal_mark}0")
    return number + ("" if unit == "deg" else " ") + symbol(unit)


def _spell(size: Fraction) -> str:
    whole, rest = divmod(size, 1)
    parts = [str(whole)] if whole or not rest else []
    if rest:
        parts.append(f"{rest.numerator}/{rest.denominator}")
    return " ".join(parts)


def _reads_as_some(shown: str) -> bool:
    return any(digit in shown for digit in "123456789")


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise refusals.no_number(value)
    return value
