"""A field of a bench form: text in the site's units -> SI, with the slip named beside it and the text kept."""

from dataclasses import dataclass

from fleet.ranges import MEASUREMENTS, Range
from service.orders.wording import measured, shown_dimension
from service.quantity_refusals import QuantityError
from service.units import Dimension, Units, read_quantity, unit_shown


@dataclass
class Box:
    """One field: its name in the form, the text in it, what is kept and how that reads, and what is wrong with it."""

    name: str
    title: str
    text: str = ""
    error: str = ""
    kept: float | None = None
    kept_text: str = ""


def box_of(name: str, title: str, kind: str, kept: float | None, system: Units) -> Box:
    """A field for a measurement of a kind, showing what is kept."""
    text = "" if kept is None else measured(kind, kept, system)
    return Box(name, title, text, kept=kept, kept_text=text)


def read_box(box: Box, kind: str, system: Units) -> float | None:
    """What stands in a field for a measurement of a kind (SI); a slip is named in the box and leaves what was kept."""
    return read_within(box, shown_dimension(kind), MEASUREMENTS[kind], system)


def read_within(box: Box, dimension: Dimension, allowed: Range, system: Units) -> float | None:
    """What stands in a field of a dimension (SI), within a range."""
    if not box.text.strip():
        return None
    if box.text == box.kept_text:
        # Shown rounded to what a rule reads; saving it again must not round what was typed.
        return box.kept
    try:
        return read_quantity(
            box.text, unit_shown(dimension, system), name=box.title, low=allowed.low, high=allowed.high
        )
    except QuantityError as problem:
        box.error = str(problem)
        return box.kept
