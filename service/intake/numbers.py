"""Columns of numbers: quantities in the unit of their header, whole numbers, plain numbers, money."""

import re
from decimal import Decimal
from typing import Any

from fleet.ranges import Range
from service import units
from service.intake.columns import Column, Read
from service.intake.desk import Desk, Values
from service.intake.problems import CellError
from service.quantity_refusals import QuantityError, between
from service.said import Figure, Said, figure, say

_WHOLE = re.compile(r"[+-]?\d{1,12}(?:\.0+)?", re.ASCII)
_DECIMAL = re.compile(r"[+-]?(?:\d{1,12}(?:\.\d{0,12})?|\.\d{1,12})", re.ASCII)
_CELSIUS_PLACES = 9  # so that 21.5 degC read through kelvin is 21.5 again
_ANY_SIZE = 1e12
_ROUNDING = 1e-9
_BARE_NUMBER = re.compile(r"[^A-Za-z°%\"″]+")


def quantity(
    field: str,
    allowed: Range,
    dimension: units.Dimension,
    about: str,
    *,
    required: bool = False,
    tolerance: bool = False,
) -> Column:
    """A measured quantity in any unit of its dimension; `allowed` is SI, or degC for a temperature.

    `tolerance` asks for a value above nothing, up to the width of the range.
    """
    low, high = _si(allowed.low, dimension), _si(allowed.high, dimension)
    if tolerance:
        low, high = 0.0, high - low
    suffixes = units.suffixes(dimension)

    def read(text: str, unit: str, _values: Values, desk: Desk) -> float:
        typed = text.replace(",", ".") if desk.decimal_comma else text
        try:
            si = units.read_quantity(typed, unit, name=allowed.name, low=low, high=high)
        except QuantityError as fault:
            raise _not_taken(field, typed, unit, suffixes, (low, high), fault) from fault
        if tolerance and si <= 0:
            raise CellError(
                say("a tolerance is above 0"),
                allowed=_span(low, high, unit),
                fix=say("give what the bow may be off by"),
            )
        return _stored(si, dimension)

    return Column(
        field,
        read,
        about,
        units=suffixes,
        required=required,
        show=lambda value, unit: "" if value is None else _trimmed(units.from_si(_si(value, dimension), unit)),
        allowed=_span(low, high, suffixes[0]),
        exact=lambda value, unit: "" if value is None else f"{units.from_si(_si(value, dimension), unit):.12f}",
    )


def _si(value: float, dimension: units.Dimension) -> float:
    return units.to_si(value, "c") if dimension is units.Dimension.TEMPERATURE else value


def _stored(si: float, dimension: units.Dimension) -> float:
    return round(units.from_si(si, "c"), _CELSIUS_PLACES) if dimension is units.Dimension.TEMPERATURE else si


def _span(low: float, high: float, unit: str) -> Said:
    return between(_trimmed(units.from_si(low, unit)), _trimmed(units.from_si(high, unit)), units.symbol(unit))


def _trimmed(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _not_taken(
    field: str, text: str, unit: str, suffixes: tuple[str, ...], span: tuple[float, float], fault: Exception
) -> CellError:
    allowed = _span(*span, unit)
    try:
        si = units.read_quantity(text, unit, name=field, low=-_ANY_SIZE, high=_ANY_SIZE)
    except QuantityError:
        return CellError(
            str(fault).rstrip("."), allowed=allowed, fix=say("write a number in %(unit)s", unit=units.symbol(unit))
        )
    given = Figure(f"{_trimmed(units.from_si(si, unit))} {units.symbol(unit)}")
    why = _outside(given, below=si < span[0])
    fix = say("check the digits and the unit, then write it again")
    if _BARE_NUMBER.fullmatch(text):
        typed = units.from_si(si, unit)
        fits = [one for one in suffixes if one != unit and span[0] <= units.to_si(typed, one) <= span[1]]
        if fits:
            fix = say(
                "%(given)s would fit: name the column %(name)s, or write '%(given)s' in the cell",
                given=f"{text} {units.symbol(fits[0])}",
                name=f"{field}_{fits[0]}",
            )
    return CellError(why, allowed=allowed, fix=fix)


def whole(field: str, allowed: Range, about: str, *, required: bool = False) -> Column:
    """A whole number of what the field names."""
    return _counted(field, allowed, about, _reader_of_whole(allowed), required)


def _reader_of_whole(allowed: Range) -> Read:
    def read(text: str, _unit: str, _values: Values, _desk: Desk) -> int:
        if not _WHOLE.fullmatch(text):
            raise CellError(say("it is not a whole number"), allowed=_plain_span(allowed), fix=say("write digits only"))
        value = int(text.partition(".")[0])
        _check(value, allowed)
        return value

    return read


def number(field: str, allowed: Range, about: str, *, required: bool = False) -> Column:
    """A number whose unit is fixed by its field (months, shots, hours)."""

    def read(text: str, _unit: str, _values: Values, desk: Desk) -> float:
        return float(_decimal(text, allowed, desk))

    return _counted(field, allowed, about, read, required)


def money(field: str, allowed: Range, about: str) -> Column:
    """An amount in the site's currency, with at most two decimals."""

    def read(text: str, _unit: str, _values: Values, desk: Desk) -> Decimal:
        value = Decimal(_decimal(text, allowed, desk))
        if value != round(value, 2):
            raise CellError(say("it has more than two decimals"), allowed=_plain_span(allowed), fix=say("round it"))
        return round(value, 2)

    return _counted(field, allowed, about, read, False)


def half_turns(field: str, allowed: Range, about: str, *, as_turns: bool) -> Column:
    """Twists, under FIELD_half_turns (a whole count) or FIELD_turns (whole turns, "12 1/2").

    The value is in whole turns as a float (`as_turns`) or a whole count of half turns; `allowed` is in half turns.
    """
    turns_high = allowed.high / 2
    count_of = _reader_of_whole(allowed)

    def read(text: str, unit: str, values: Values, desk: Desk) -> float | int:
        if unit == "half_turns":
            count = int(count_of(text, unit, values, desk))
        else:
            typed = text.replace(",", ".") if desk.decimal_comma else text
            try:
                twice = 2 * units.read_quantity(typed, "turns", name=allowed.name, low=allowed.low / 2, high=turns_high)
            except QuantityError as fault:
                raise _not_taken(field, typed, "turns", ("turns",), (allowed.low / 2, turns_high), fault) from fault
            count = round(twice)
            if abs(twice - count) > _ROUNDING:
                raise CellError(
                    say("a bench counts half turns"),
                    allowed=say("whole and half turns"),
                    fix=say("write 12 or 12 1/2, for example"),
                )
        return count / 2 if as_turns else count

    def show(value: Any, unit: str) -> str:
        if value is None:
            return ""
        turns = value if as_turns else value / 2
        return f"{turns * 2:g}" if unit == "half_turns" else f"{turns:g}"

    span = between(f"{allowed.low:g}", f"{allowed.high:g}", say("half turns"))
    return Column(field, read, about, units=("half_turns", "turns"), show=show, allowed=span)


def _counted(field: str, allowed: Range, about: str, read: Read, required: bool) -> Column:
    return Column(
        field,
        read,
        about,
        required=required,
        show=lambda value, _unit: "" if value is None else f"{float(value):.10g}",
        allowed=_plain_span(allowed),
    )


def _decimal(text: str, allowed: Range, desk: Desk) -> str:
    typed = text.replace(",", ".") if desk.decimal_comma else text
    if not _DECIMAL.fullmatch(typed):
        raise CellError(
            say("it is not a plain number"),
            allowed=_plain_span(allowed),
            fix=say("write it with a decimal point: 12.5"),
        )
    _check(float(typed), allowed)
    return typed


def _check(value: float, allowed: Range) -> None:
    if not allowed.low <= value <= allowed.high:
        raise CellError(
            _outside(figure(value, ".10g"), below=value < allowed.low),
            allowed=_plain_span(allowed),
            fix=say("check the digits, then write it again"),
        )


def _outside(value: Figure, *, below: bool) -> Said:
    return (
        say("%(value)s is below the range", value=value) if below else say("%(value)s is above the range", value=value)
    )


def _plain_span(allowed: Range) -> Said:
    return between(f"{allowed.low:g}", f"{allowed.high:g}", say(allowed.unit.replace("%", "%%")))
