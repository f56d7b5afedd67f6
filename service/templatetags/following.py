"""The next order at hand, in templates."""

from django import template

from service.models import WorkOrder
from service.orders.following import next_at_hand

register = template.Library()


@register.inclusion_tag("bench/next_order.html")
def next_order(order: WorkOrder) -> dict[str, WorkOrder | None]:
    """A link to the order that comes after this one; nothing where the day's work is done."""
    return {"order": next_at_hand(order)}
