"""The kinds of file, in the order in which an empty book takes them in: each names only what came before it."""

from service.intake.kind import AnyKind
from service.intake.kinds.bookings import BOOKINGS
from service.intake.kinds.bows import BOWS
from service.intake.kinds.cords import CORDS
from service.intake.kinds.people import PEOPLE
from service.intake.kinds.presses import PRESSES
from service.intake.kinds.references import REFERENCES
from service.intake.kinds.shots import SHOTS_KIND
from service.intake.kinds.sites import PLACES, SITES
from service.intake.kinds.specs import SPECS
from service.intake.kinds.stays import STAYS
from service.intake.kinds.stock import STOCK
from service.intake.kinds.supplier_orders import SUPPLIER_ORDERS
from service.intake.kinds.temperatures import TEMPERATURES
from service.intake.kinds.tools import TOOLS

KINDS: dict[str, AnyKind] = {
    kind.name: kind
    for kind in (
        SITES,
        PLACES,
        SPECS,
        PEOPLE,
        PRESSES,
        TOOLS,
        BOWS,
        CORDS,
        REFERENCES,
        STAYS,
        TEMPERATURES,
        SHOTS_KIND,
        BOOKINGS,
        STOCK,
        SUPPLIER_ORDERS,
    )
}
