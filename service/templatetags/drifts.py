"""What a predicted drift rests on, and temperatures in the site's units, in templates."""

from django import template
from django.utils.translation import gettext as _

from fleet.models import Site
from service.coefficient_names import coefficient_name
from service.drift_ahead import ARMS
from service.units import Dimension, Units, format_quantity, to_si

register = template.Library()


@register.simple_tag
def assumed_cause(name: str) -> str:
    """What a drift rests on that nobody measured, published or learned, in words."""
    return _("arms nobody measured") if name == ARMS else coefficient_name(name)


@register.simple_tag
def degrees(celsius: float | None, site: Site) -> str:
    """A temperature in the site's units; a dash where there is none."""
    return "–" if celsius is None else format_quantity(to_si(celsius, "c"), Dimension.TEMPERATURE, Units(site.units))
