"""Quantities in the site's units, in templates. The units come from the site that is passed, never from a guess."""

from datetime import datetime
from zoneinfo import ZoneInfo

from django import template
from django.utils import formats

from fleet.models import Site
from service.orders.wording import label, measured, off_by, shown_dimension
from service.units import Dimension, Units, format_quantity, format_tolerance

register = template.Library()


@register.simple_tag
def quantity(kind: str, value: float | None, site: Site) -> str:
    """A measurement of a kind in the site's units; a dash where there is none."""
    return "–" if value is None else measured(kind, value, Units(site.units))


@register.simple_tag
def deviation(kind: str, value: float | None, site: Site) -> str:
    """A signed difference of a kind in the site's units."""
    return "–" if value is None else off_by(kind, value, Units(site.units))


@register.simple_tag
def tolerance(kind: str, value: float | None, site: Site) -> str:
    """A symmetric tolerance of a kind in the site's units."""
    return "–" if value is None else format_tolerance(value, shown_dimension(kind), Units(site.units))


@register.simple_tag
def length(value_m: float | None, site: Site) -> str:
    """A length in the site's units."""
    return "–" if value_m is None else format_quantity(value_m, Dimension.LENGTH, Units(site.units))


@register.simple_tag
def force(value_n: float | None, site: Site) -> str:
    """A draw weight in the site's units."""
    return "–" if value_n is None else format_quantity(value_n, Dimension.FORCE, Units(site.units))


@register.simple_tag
def measurement_name(kind: str, position: str = "") -> str:
    """A measurement's name."""
    return label(kind, position)


@register.simple_tag
def local(moment: datetime | None, site: Site) -> str:
    """An instant in the site's zone, by the reader's locale."""
    if moment is None:
        return "–"
    return formats.date_format(moment.astimezone(ZoneInfo(site.time_zone)), "SHORT_DATETIME_FORMAT")
