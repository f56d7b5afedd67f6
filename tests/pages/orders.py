"""An issued order and what a technician types into its page."""

from fleet.models import Bow
from service import decide, schedule
from service.models import WorkOrder
from service.orders.issue import issue_now
from service.orders.wording import measured
from service.units import Units
from tests import personas
from tests.personas import Shop
from tests.remembered import remembered


@remembered(personas.now)
def issued(shop: Shop, bow: Bow) -> WorkOrder:
    """An order of today for what the bow needs."""
    day = schedule.today_at(shop.site, personas.NOW)
    return issue_now(bow, day=day, by=shop.technician, now=personas.NOW, technician=shop.technician)


@remembered(personas.now)
def worn_bow(shop: Shop, cam_system: str = "twin") -> Bow:
    """A bow whose set is past its rated shots, so that its order is a replacement."""
    bow = personas.fitted_bow(shop, cam_system)
    personas.shoot(shop, bow, 5_000, days_ago=4)
    personas.shoot(shop, bow, 900, days_ago=3)
    decide.rebuild(personas.NOW)
    return bow


def on_reference(order: WorkOrder) -> dict[str, str]:
    """Every measurement typed as found and as left exactly on its reference, as the site writes it."""
    system, typed = Units(order.site.units), {}
    for row in order.frozen["measurements"]:
        key = f"{row['kind']}-{row['position']}" if row["position"] else row["kind"]
        typed[f"found-{key}"] = typed[f"left-{key}"] = measured(row["kind"], row["value"], system)
    return typed


def new_set(order: WorkOrder, prefix: str = "NEW") -> dict[str, str]:
    """Every cord replaced as planned by a new one of the same spec."""
    typed = {}
    for row in order.frozen["cords"]:
        name = f"cord-{row['position']}"
        typed |= {
            f"{name}-replaced": "on",
            f"{name}-serial": f"{prefix}-{row['position']}",
            f"{name}-lot": "LOT-B",
            f"{name}-spec": row["spec"],
            f"{name}-why": "planned",
            f"{name}-half_twists": "44",
        }
    return typed
