"""How something is written down at a site, in templates."""

from django import template

from fleet.models import Site
from service.how_to_measure import HowTo, unit_of

register = template.Library()


@register.simple_tag
def unit_written(how: HowTo, site: Site) -> str:
    """The unit of an entry at a site."""
    return str(unit_of(how, site.units))


@register.simple_tag
def read_to(how: HowTo, site: Site) -> str:
    """The division to which an entry is read at a site."""
    return str(how.reads_to[site.units])
