"""One cord as its page shows it: what it is, its life bow by bow, its wear, and the account of its dates."""

from dataclasses import dataclass
from datetime import datetime

from fleet.models import Bow, CordSpec, Fitting
from service.explain import Paragraph, account_of
from service.exposures import exposure_of
from service.gather import Gathered, gather
from service.instants import epoch_s
from service.models import CordWear, StaleBow, TimingDrift
from service.wear.life import LifeUsed, life_shares


@dataclass(frozen=True)
class LifeOnBow:
    """One fitting of the cord and the life that it used there; the first one brings along use before the book."""

    fitting: Fitting
    life: LifeUsed
    weighted_shots: float


@dataclass(frozen=True)
class CordCard:
    """The cord fitted at a position of a bow. `wear` None: not computed yet; `is_stale`: facts came in since."""

    bow: Bow
    fitting: Fitting
    wear: CordWear | None
    is_stale: bool
    lives: list[LifeOnBow]
    account: list[Paragraph]
    bow_drifts: list[TimingDrift]

    @property
    def spec(self) -> CordSpec:
        """Its make."""
        return self.fitting.cord.spec


def cord_card(bow: Bow, position: str, now: datetime) -> CordCard | None:
    """The card of the cord that is fitted at a position now; None where none is."""
    fitted = bow.fittings.filter(position=position, removed_at=None).select_related("cord__spec")
    fitting = fitted.first()
    if fitting is None:
        return None
    wears = CordWear.objects.select_related("fitting__bow__site", "fitting__bow__spec_sheet", "fitting__cord__spec")
    wear = wears.filter(fitting=fitting).first()
    rows = gather([bow.pk])
    return CordCard(
        bow=bow,
        fitting=fitting,
        wear=wear,
        is_stale=StaleBow.objects.filter(bow=bow).exists(),
        lives=_lives(fitting, rows, now),
        account=account_of(wear, rows.coefficients) if wear is not None else [],
        bow_drifts=list(bow.drifts.all()),
    )


def _lives(fitting: Fitting, rows: Gathered, now: datetime) -> list[LifeOnBow]:
    """Life used on each bow that the cord was on, the latest first."""
    parts = exposure_of(rows, rows.rows.cords, epoch_s(now))
    spec = fitting.cord.spec
    table = rows.coefficients.of(spec.pk)
    cords = rows.rows.cords
    life = life_shares(
        parts.weighted_shots,
        parts.tension_h,
        parts.shelf_h,
        parts.heat_h,
        cords.rated_shots,
        cords.rated_h,
        cords.heat_weight,
        table["shelf_fraction"].value,
    )
    mine = [row for row, cord in enumerate(rows.keys.cord.tolist()) if cord == fitting.cord_id]
    there = Fitting.objects.select_related("bow").in_bulk(rows.keys.fitting[mine].tolist())
    return [
        LifeOnBow(there[int(rows.keys.fitting[row])], life.row(row), float(parts.weighted_shots[row]))
        for row in reversed(mine)
    ]
