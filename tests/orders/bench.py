"""A technician's hands: bows that need work, and what is typed under an order."""

from dataclasses import replace
from datetime import date
from typing import Any

from fleet.models import Bow
from service import decide
from service.models import WorkOrder
from service.orders import work
from service.orders.issue import issue_now
from service.orders.work import TypedCord, TypedReading
from tests import personas
from tests.remembered import remembered

NOW = personas.NOW
DAY = date(2026, 7, 1)


@remembered(personas.now)
def worn_bow(shop: personas.Shop, tag: str = "L-W", cam_system: str = "twin") -> Bow:
    """A bow whose set is past its rated shots, so that its order is a replacement."""
    bow = personas.fitted_bow(shop, cam_system, tag)
    personas.shoot(shop, bow, 5_000, days_ago=4)
    personas.shoot(shop, bow, 900, days_ago=3)
    decide.rebuild(NOW)
    return bow


@remembered(personas.now)
def fresh_bow(shop: personas.Shop, tag: str = "L-F") -> Bow:
    """A settled bow that only wants its routine inspection."""
    bow = personas.fitted_bow(shop, "twin", tag, days_ago=40.0, in_service_on=personas.before(40).date())
    personas.shoot(shop, bow, 150, days_ago=39.0)
    decide.refresh([bow.pk], NOW)
    return bow


@remembered(personas.now)
def issued(shop: personas.Shop, bow: Bow) -> WorkOrder:
    """An order of today for what the bow needs."""
    return issue_now(bow, day=DAY, by=shop.technician, now=NOW, technician=shop.technician)


def on_reference(order: WorkOrder, **changes: float | None) -> list[TypedReading]:
    """Every reference measurement as found and as left on its reference; `changes` gives others as left."""
    assert order.reference_set is not None
    return [
        TypedReading(one.kind, one.value, changes.get(one.kind, one.value), one.position)
        for one in order.reference_set.measurements.all()
    ]


def new_set(order: WorkOrder, prefix: str = "NEW", **changes: Any) -> list[TypedCord]:
    """Every cord replaced as planned by a new one of the same spec, 22 turns in each."""
    return [
        replace(
            TypedCord(
                position=fitting.position,
                replaced=True,
                removed_why="planned",
                new_spec=fitting.cord.spec,
                new_serial=f"{prefix}-{fitting.position}",
                new_lot="LOT-B",
                half_twists=44,
            ),
            **changes,
        )
        for fitting in order.bow.fittings.filter(removed_at=None).select_related("cord__spec").order_by("position")
    ]


def enter(order: WorkOrder, shop: personas.Shop, **typed: Any) -> WorkOrder:
    """Type something under an order; what is not given is left empty."""
    given: dict[str, Any] = {"readings": [], "cords": [], "steps_done": [], "note": "", "now": NOW}
    return work.enter(order, by=shop.technician, **{**given, **typed})
