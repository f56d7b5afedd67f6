"""What closed orders taught of a bow, in templates."""

from typing import Any

from django import template

from fleet.models import Bow
from service.learned_arms import learned_of

register = template.Library()


@register.inclusion_tag("parts/learned.html")
def learned_response(bow: Bow) -> dict[str, Any]:
    """The learned values beside the model's, and on how many closed orders they rest."""
    return {"bow": bow, "learned": learned_of(bow)}
