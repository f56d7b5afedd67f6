"""Phrases of the timing package in a site's units, and quantities of the register as a shop reads them."""

from fleet.vocabulary import Dimension as StoredDimension
from fleet.vocabulary import MeasurementKind, Position, dimension_of
from service import units
from service.said import Figure, Said, figure, joined, say, say_many
from service.timing.phrases import Phrase, Quantity, QuantityKind
from service.units import Dimension, Units
from service.wording import named

DIMENSIONS: dict[str, Dimension] = {
    StoredDimension.LENGTH: Dimension.LENGTH,
    StoredDimension.FORCE: Dimension.FORCE,
    StoredDimension.SHARE: Dimension.SHARE,
    StoredDimension.TURNS: Dimension.TURNS,
}

TOLERANCE_DIMENSIONS: dict[QuantityKind, Dimension] = {
    QuantityKind.LENGTH_M: Dimension.LENGTH,
    QuantityKind.FORCE_N: Dimension.FORCE,
    QuantityKind.PERCENT: Dimension.SHARE,
    QuantityKind.TURNS: Dimension.TURNS,
}


def shown_dimension(kind: str) -> Dimension:
    """The dimension in which a measurement kind is shown."""
    return DIMENSIONS[dimension_of(kind)]


def measured(kind: str, value: float, system: Units) -> Figure:
    """A measurement that was kept, in the site's units: a length to the finest division of a rule, as it was read."""
    return Figure(units.format_quantity(value, shown_dimension(kind), system, units.KEPT_DENOMINATOR))


def estimated(kind: str, value: float, system: Units) -> Figure:
    """A measurement that is only expected, in the site's units: no finer than the estimate is worth."""
    return Figure(units.format_quantity(value, shown_dimension(kind), system))


def off_as_read(kind: str, deviation: float, system: Units) -> Figure:
    """A signed deviation of a kept measurement in the site's units, as fine as it was read."""
    return Figure(units.format_deviation(deviation, shown_dimension(kind), system, units.KEPT_DENOMINATOR))


def off_by(kind: str, deviation: float, system: Units) -> Figure:
    """A signed deviation in the site's units."""
    return Figure(units.format_deviation(deviation, shown_dimension(kind), system))


def within(kind: str, tolerance: float, system: Units) -> Figure:
    """A tolerance in the site's units, never laxer than it is."""
    return Figure(units.format_tolerance(tolerance, shown_dimension(kind), system))


def told(phrase: Phrase, system: Units) -> Said:
    """A phrase as one sentence in the site's units, its first letter large."""
    return _in_units(phrase, system).as_sentence()


def _in_units(phrase: Phrase, system: Units) -> Said:
    parts = {}
    for name, part in phrase.parts.items():
        if isinstance(part, Quantity):
            part = _figure(part, system)
        parts[name] = _in_units(part, system) if isinstance(part, Said) else part
    return Said(phrase.pattern, parts, phrase.many)


def _figure(part: Quantity, system: Units) -> str:
    if part.kind is QuantityKind.HALF_TURNS:
        return say_many("%(count)d half turn", "%(count)d half turns", round(part.value))
    if part.kind is QuantityKind.SHOTS:
        return say("%(shots)s shots", shots=figure(part.value, ".0f"))
    return Figure(_number(part, system))


def _number(part: Quantity, system: Units) -> str:
    if part.is_tolerance:
        return units.format_tolerance(part.value, TOLERANCE_DIMENSIONS[part.kind], system)
    if part.kind is QuantityKind.LENGTH_M:
        return units.format_length(part.value, system)
    if part.kind is QuantityKind.FORCE_N:
        return units.format_quantity(part.value, Dimension.FORCE, system)
    if part.kind is QuantityKind.TURNS:
        return units.format_twists(part.value) + " turns"
    # The register keeps let-off as a share of peak weight, and its references come from there.
    return units.format_quantity(part.value, Dimension.SHARE, system)


def measurement(kind: str, position: str = "") -> Said:
    """A measurement's name as a part of a sentence, with the cord's position where it has one."""
    name = named(MeasurementKind(kind).label)
    return joined(", ", [name, named(Position(position).label)]) if position else name


def label(kind: str, position: str = "") -> str:
    """A measurement's name, with the cord's position where it has one."""
    name = str(MeasurementKind(kind).label)
    return f"{name}, {Position(position).label}" if position else name
