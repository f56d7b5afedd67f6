"""What a predicted drift rests on, temperatures in the site's units, and what is missing of them, in templates."""

from datetime import UTC, datetime

from django import template
from django.utils.html import format_html
from django.utils.translation import gettext as _

from fleet.models import Site
from service.coefficient_names import coefficient_name
from service.drift_ahead import ARMS
from service.heat_alarms import heat_limits, shown_celsius
from service.said import worded
from service.silent_places import SilentPlace, silence_at
from service.units import Units
from service.wear.coefficients import DEFAULTS

register = template.Library()
MISSING_OVER_DAYS = 7


@register.simple_tag
def assumed_cause(name: str) -> str:
    """What a drift rests on that nobody measured, published or learned, in words."""
    return _("a geometry nobody measured") if name == ARMS else coefficient_name(name)


@register.simple_tag
def degrees(celsius: float | None, site: Site) -> str:
    """A temperature in the site's units; a dash where there is none."""
    return "–" if celsius is None else shown_celsius(Units(site.units), celsius)


@register.simple_tag
def hot(celsius: float | None, site: Site, limit_c: float | None = None) -> str:
    """A mark for a cord that met more than the house's first limit; nothing for a cooler one.

    A list gives the limit, looked up once; else it is read where a cord is near it.
    """
    # No house may set its limit below the plausible range: most cords need no look at the settings.
    if celsius is None or celsius <= DEFAULTS["heat_caution_notice"].low:
        return ""
    if celsius <= (heat_limits().notice_c if limit_c is None else limit_c):
        return ""
    told = _("reached %(temperature)s") % {"temperature": worded(shown_celsius(Units(site.units), celsius))}
    return format_html('<span class="state care small">{}</span>', told)


@register.inclusion_tag("parts/silent_places.html")
def silent_places(site: Site) -> dict[str, Site | int | str | list[SilentPlace]]:
    """Places of a site whose temperature was not read for longer than the house bridges, in the last days."""
    found = silence_at(site, datetime.now(UTC), MISSING_OVER_DAYS)
    return {"stories": found.places, "site": site, "days": MISSING_OVER_DAYS, "limit_h": f"{found.max_gap_h:g}"}
