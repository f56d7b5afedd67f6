"""Coefficients of the wear model in templates: names, values with units, labels, and the line that says "assumed"."""

import math
from collections.abc import Iterable
from decimal import Decimal

from django import template
from django.utils import formats
from django.utils.translation import gettext as _

from fleet.models import Bow, Site
from service import coefficient_names
from service.assumed import assumed_at_site, assumed_names, assumed_on_bows, told
from service.models import CordWear
from service.orders.day import BenchDay

register = template.Library()
UNITS_SHOWN = {"1": "", "degC": "°C"}


@register.simple_tag
def coefficient_value(value: float | None, unit: str = "1") -> str:
    """A value with its unit; a pure number has none; a dash where there is none."""
    if value is None:
        return "–"
    number = formats.number_format(Decimal(f"{value:.6g}"), use_l10n=True, force_grouping=True)
    return f"{number} {unit_shown(unit)}".strip()


@register.filter
def unit_shown(unit: str) -> str:
    """A coefficient's unit as people read it."""
    return UNITS_SHOWN[unit] if unit in UNITS_SHOWN else coefficient_names.unit_name(unit)


@register.filter
def coefficient_name(name: str) -> str:
    """A coefficient's name in words."""
    return coefficient_names.coefficient_name(name)


@register.filter
def label_name(label: str) -> str:
    """How far a coefficient can be trusted, in words."""
    return coefficient_names.label_name(label)


@register.simple_tag
def bound(value: float) -> str:
    """An end of an interval; an end that nothing bounds says so."""
    return _("no bound") if math.isinf(value) else formats.number_format(Decimal(f"{value:.2f}"), use_l10n=True)


@register.filter
def percent(share: float) -> str:
    """A share in whole percent."""
    return _("%(share)s %%") % {"share": f"{100.0 * share:.0f}"}


@register.filter
def unlocalised(value: float) -> str:
    """A place in a picture: a point for its decimals in every language."""
    return f"{value:g}"


@register.inclusion_tag("parts/assumed.html")
def assumed(names: Iterable[str]) -> dict[str, list[str]]:
    """The line that names what the figures beside it only assume; nothing where nothing is assumed."""
    return {"names": told(names)}


@register.inclusion_tag("parts/assumed.html")
def assumed_in(wears: Iterable[CordWear]) -> dict[str, list[str]]:
    """The same for the wear of some cords."""
    return {"names": told(assumed_names(wears))}


@register.inclusion_tag("parts/assumed.html")
def assumed_on(bows: Iterable[Bow]) -> dict[str, list[str]]:
    """The same for all that is fitted on some bows now."""
    return {"names": told(assumed_on_bows(bow.pk for bow in bows))}


@register.inclusion_tag("parts/assumed.html")
def assumed_on_bow(bow: Bow) -> dict[str, list[str]]:
    """The same for one bow."""
    return {"names": told(assumed_on_bows([bow.pk]))}


@register.inclusion_tag("parts/assumed.html")
def assumed_at(site: Site) -> dict[str, list[str]]:
    """The same for every bow in service at a site."""
    return {"names": told(assumed_at_site(site))}


@register.simple_tag
def assumed_words(site: Site) -> str:
    """The same as plain text, for a mail; empty where nothing is assumed."""
    return ", ".join(told(assumed_at_site(site)))


@register.simple_tag
def rests_on_assumed(bow: Bow) -> bool:
    """Whether anything is assumed of what is fitted on a bow; for a page that has no room for the names."""
    return bool(assumed_on_bows([bow.pk]))


@register.inclusion_tag("parts/assumed.html")
def assumed_on_day(bench: BenchDay) -> dict[str, list[str]]:
    """The same for the jobs of a day that have no order yet, and for the needs that found none."""
    waiting = [job.bow_id for job in bench.planned] + [need.bow_id for need in bench.unplaced]
    ordered = {name for order in bench.orders for name in order.frozen.get("assumed", ())}
    return {"names": told(ordered | (assumed_on_bows(waiting) if waiting else set()))}
