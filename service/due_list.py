"""The due list: every fitted cord with life used, its shares, its date and the reason."""

from dataclasses import asdict, dataclass
from datetime import date

from django.db.models import F, QuerySet

from fleet.models import Site
from fleet.vocabulary import Position
from service.models import CordWear


@dataclass(frozen=True)
class DueRow:
    """One fitted cord. Life shares are of rated life and add up to `life_used`."""

    site: str
    tag: str
    position: str
    cord_spec: str
    serial: str
    fitted_on: date
    life_used: float
    shots: float
    time: float
    heat: float
    replace_on: date | None
    basis: str
    reason: str

    def as_record(self) -> dict[str, object]:
        """The row as plain values."""
        return {key: value.isoformat() if isinstance(value, date) else value for key, value in asdict(self).items()}


def wears_in_order(site: Site | None = None) -> "QuerySet[CordWear]":
    """Wear of every fitted cord of bows in service, the soonest replacement first."""
    wears = CordWear.objects.select_related("fitting__bow__site", "fitting__bow__spec_sheet", "fitting__cord__spec")
    wears = wears.filter(fitting__removed_at=None, fitting__bow__retirement=None)
    if site is not None:
        wears = wears.filter(fitting__bow__site=site)
    return wears.order_by(F("replace_on").asc(nulls_last=True), "-life_used", "fitting__bow__tag", "fitting__position")


def row_of(wear: CordWear) -> DueRow:
    """One line of the list."""
    fitting = wear.fitting
    return DueRow(
        site=fitting.bow.site.code,
        tag=fitting.bow.tag,
        position=str(Position(fitting.position).label),
        cord_spec=fitting.cord.spec.code,
        serial=fitting.cord.serial,
        fitted_on=fitting.fitted_at.date(),
        life_used=wear.life_used,
        shots=wear.life_shots,
        time=wear.life_time,
        heat=wear.life_heat,
        replace_on=wear.replace_on,
        basis=wear.replace_basis,
        reason=wear.reason,
    )
