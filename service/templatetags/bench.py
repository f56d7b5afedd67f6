"""The standing cautions, in templates."""

from django import template

from service.printing.cautions import cautions, planning_aid

register = template.Library()


@register.simple_tag
def standing_cautions() -> tuple[str, ...]:
    """The cautions, and what the estimates are."""
    return (*cautions(), planning_aid())
