"""The verb that notes a work order's own steps. The order itself is kept by those who issue it; its steps are facts.

Taking the bow to the bench, the signature and the release have verbs of their own, which name the order too.
"""

from typing import Any

from fleet.models import Bow, Person
from fleet.record.kernel import audit, verb


@verb
def note_order(*, by: Person, bow: Bow, order_number: str, step: str, **detail: Any) -> None:
    """Note that an order was issued, widened or cancelled, by whom, with what tells it from others of its kind."""
    audit(by, "note_order", bow, bow=bow, order_number=order_number, step=step, **detail)
