"""Phrases of the timing package in a site's units, and quantities of the register as a shop reads them."""

from fleet.vocabulary import Dimension as StoredDimension
from fleet.vocabulary import MeasurementKind, dimension_of
from service import units
from service.timing.phrases import Phrase, Quantity, QuantityKind
from service.units import Dimension, Units

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


def measured(kind: str, value: float, system: Units) -> str:
    """A measurement in the site's units."""
    return units.format_quantity(value, shown_dimension(kind), system)


def off_by(kind: str, deviation: float, system: Units) -> str:
    """A signed deviation in the site's units."""
    return units.format_deviation(deviation, shown_dimension(kind), system)


def within(kind: str, tolerance: float, system: Units) -> str:
    """A tolerance in the site's units, never laxer than it is."""
    return units.format_tolerance(tolerance, shown_dimension(kind), system)


def told(phrase: Phrase, system: Units) -> str:
    """A phrase as one sentence, its first letter large."""
    words = "".join(_part(part, system) for part in phrase)
    return words[:1].upper() + words[1:]


def _part(part: str | Quantity, system: Units) -> str:
    if isinstance(part, str):
        return part
    if part.is_tolerance:
        return units.format_tolerance(part.value, TOLERANCE_DIMENSIONS[part.kind], system)
    if part.kind is QuantityKind.LENGTH_M:
        return units.format_length(part.value, system)
    if part.kind is QuantityKind.FORCE_N:
        return units.format_quantity(part.value, Dimension.FORCE, system)
    if part.kind is QuantityKind.HALF_TURNS:
        return f"{part.value:.0f} half turn{'s' if part.value != 1 else ''}"
    if part.kind is QuantityKind.TURNS:
        return units.format_twists(part.value) + " turns"
    if part.kind is QuantityKind.PERCENT:
        # The register keeps let-off as a share of peak weight, and its references come from there.
        return units.format_quantity(part.value, Dimension.SHARE, system)
    return f"{part.value:.0f} shots"


def label(kind: str, position: str = "") -> str:
    """A measurement's name, with the cord's position where it has one."""
    name = str(MeasurementKind(kind).label)
    return f"{name}, {position.replace('_', ' ')}" if position else name
