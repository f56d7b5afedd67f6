"""Which order is at hand next, when one is done."""

from service.models import OrderStatus, WorkOrder
from service.orders.issue import orders_of

TO_DO = (OrderStatus.ISSUED, OrderStatus.IN_WORK)


def next_at_hand(order: WorkOrder) -> WorkOrder | None:
    """The next order of the day that is still to do, in the order of work: the same technician's before another's."""
    orders = orders_of(order.site, order.day)
    numbers = [one.number for one in orders]
    at = numbers.index(order.number) if order.number in numbers else -1
    in_turn = [one for one in (*orders[at + 1 :], *orders[: max(at, 0)]) if one.status in TO_DO]
    own = [one for one in in_turn if one.technician_id == order.technician_id]
    return next(iter((*own, *in_turn)), None)
