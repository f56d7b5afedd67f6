"""Quantities and days as the site reads them, in templates. The units come from the site that is passed."""

from datetime import date, datetime

from django import template
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.models import Site
from service.orders.wording import label, measured, off_by, within
from service.said import Figure
from service.units import Dimension, Units, format_quantity

register = template.Library()
NONE = "–"


@register.simple_tag
def quantity(kind: str, value: float | None, site: Site) -> str:
    """A measurement of a kind in the site's units; a dash where there is none."""
    return NONE if value is None else measured(kind, value, Units(site.units))


@register.simple_tag
def deviation(kind: str, value: float | None, site: Site) -> str:
    """A signed difference of a kind in the site's units."""
    return NONE if value is None else off_by(kind, value, Units(site.units))


@register.simple_tag
def tolerance(kind: str, value: float | None, site: Site) -> str:
    """A symmetric tolerance of a kind in the site's units."""
    return NONE if value is None else within(kind, value, Units(site.units))


@register.simple_tag
def length(value_m: float | None, site: Site) -> str:
    """A length in the site's units."""
    return NONE if value_m is None else Figure(format_quantity(value_m, Dimension.LENGTH, Units(site.units)))


@register.simple_tag
def force(value_n: float | None, site: Site) -> str:
    """A draw weight in the site's units."""
    return NONE if value_n is None else Figure(format_quantity(value_n, Dimension.FORCE, Units(site.units)))


@register.simple_tag
def measurement_name(kind: str, position: str = "") -> str:
    """A measurement's name."""
    return label(kind, position)


@register.filter
def to(begin: datetime, end: datetime) -> str:
    """Two moments on the site's clock; the day is said once where both are of one day."""
    first, last = timezone.localtime(begin), timezone.localtime(end)
    form = "TIME_FORMAT" if first.date() == last.date() else "DATETIME_FORMAT"
    return f"{date_format(first, 'DATETIME_FORMAT')} – {date_format(last, form)}"


@register.simple_tag
def until(day: date, today: date) -> str:
    """How far off a day is, in words."""
    days = (day - today).days
    if days == 0:
        return _("today")
    if days < 0:
        return ngettext("%(days)d day past", "%(days)d days past", -days) % {"days": -days}
    return ngettext("in %(days)d day", "in %(days)d days", days) % {"days": days}
