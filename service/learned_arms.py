"""What closed orders taught of a bow, beside the model's own values, in the site's units."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.models import Bow
from fleet.vocabulary import Arm, CamEnd, Position
from service.closed_orders import learned_response, peak_weight_per_turn
from service.timing.response import LearnedValue
from service.units import Dimension, Units, format_deviation, from_si

OF_LENGTH = {*Arm.values, "radius"}


@dataclass(frozen=True)
class LearnedLine:
    """One value: the model's and the learned one, each with its standard error, and the orders that it rests on."""

    name: str
    model: str
    learned: str
    own: int
    mates: int


@dataclass(frozen=True)
class Learned:
    """Everything that closed orders taught of a bow; `left_out` orders were too far from the model to teach."""

    lines: tuple[LearnedLine, ...]
    own: int
    mates: int
    left_out: int
    peak_per_turn: str
    peak_orders: int


def learned_of(bow: Bow) -> Learned:
    """The values that some closed order spoke to, of this bow or of its mates; the rest stand as the model has them."""
    system, response = Units(bow.site.units), learned_response(bow)
    slope = peak_weight_per_turn(bow)
    peak = "" if slope is None else format_deviation(slope.value, Dimension.FORCE, system)
    return Learned(
        lines=tuple(_line(one, system) for one in response.values if one.orders + one.mates_orders > 0),
        own=response.orders,
        mates=response.mates_orders,
        left_out=len(response.left_out),
        peak_per_turn=peak,
        peak_orders=0 if slope is None else slope.orders + slope.mates_orders,
    )


def _line(one: LearnedValue, system: Units) -> LearnedLine:
    return LearnedLine(
        value_name(one.name),
        _with_error(one.name, one.prior, one.prior_standard_error, system),
        _with_error(one.name, one.value, one.standard_error, system),
        one.orders,
        one.mates_orders,
    )


def _with_error(name: str, value: float, error: float, system: Units) -> str:
    """A value and its standard error: arms finer than a rule reads them, for they are averages."""
    part, _dot, what = name.rpartition(".")
    if part == "shortening" or what not in OF_LENGTH:
        return f"{value:.2f} ± {error:.2f}"
    if system is Units.IMPERIAL:
        return f"{from_si(value, 'in'):.3f} ± {from_si(error, 'in'):.3f} in"
    return f"{from_si(value, 'mm'):.1f} ± {from_si(error, 'mm'):.1f} mm"


def value_name(name: str) -> str:
    """A value of the geometry in words."""
    part, _dot, what = name.rpartition(".")
    if part in CamEnd.values:
        return f"{Arm(what).label}, {CamEnd(part).label}"
    if part == "shortening":
        return _("shortening by twists against the formula, %(cord)s") % {"cord": Position(what).label}
    return {
        "radius": _("stop radius"),
        "full_draw_ratio": _("stop sync at full draw against brace"),
        "brace_height_ratio": _("brace height lost per length of stretch"),
    }[what]
