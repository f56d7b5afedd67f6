"""What the fleet of a site is made of: by kind, cam system, state, age and life used; three queries for any size."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from django.db.models import Count, Max
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet import lookups
from fleet.models import Bow, Site
from fleet.vocabulary import BowKind, BowState, CamSystem
from service.models import CordWear

DAYS_PER_YEAR = 365.25
# Bands end below these ages (years) and shares of rated life.
AGES: tuple[tuple[float, str | Promise], ...] = (
    (1.0, _("under 1 year")),
    (2.0, _("1 to 2 years")),
    (4.0, _("2 to 4 years")),
    (7.0, _("4 to 7 years")),
    (float("inf"), _("7 years and more")),
)
LIVES: tuple[tuple[float, str | Promise], ...] = (
    (0.25, _("under 0.25")),
    (0.5, _("0.25 to 0.50")),
    (0.75, _("0.50 to 0.75")),
    (1.0, _("0.75 to 1.00")),
    (float("inf"), _("1.00 and more")),
)
K = TypeVar("K", str, int)
NO_CAMS = _("none (recurve, longbow)")
NO_WEAR = _("no cord, or its wear is not computed yet")


@dataclass(frozen=True)
class Share:
    """One part of the fleet: its name, the value that a list is narrowed by (or empty), how many, and which share."""

    name: str
    value: str
    count: int
    share: float

    @property
    def bar(self) -> float:
        """The length of its bar, of 100."""
        return round(100 * self.share, 2)


@dataclass(frozen=True)
class Division:
    """The fleet divided in one way; the parts add up to all of it."""

    title: str
    parts: tuple[Share, ...]


@dataclass(frozen=True)
class Composition:
    """A site's bows in service, divided in each way."""

    bows: int
    divisions: tuple[Division, ...]


def composition_of(site: Site, today: date) -> Composition:
    """The bows of a site that are in service, counted; a bow's life used is that of its most used cord."""
    bows = Bow.objects.filter(site=site, retirement=None).order_by()
    makes = lookups.with_state(bows).values_list("spec_sheet__bow_kind", "spec_sheet__cam_system", "state")
    kinds: Counter[str] = Counter()
    cams: Counter[str] = Counter()
    states: Counter[str] = Counter()
    for kind, cam, state, count in makes.annotate(count=Count("pk")):
        kinds[kind] += count
        cams[cam] += count
        states[state] += count
    ages: Counter[int] = Counter()
    for since, count in bows.values_list("in_service_on").annotate(count=Count("pk")):
        ages[_band((today - since).days / DAYS_PER_YEAR, AGES)] += count
    wears = CordWear.objects.filter(fitting__removed_at=None, fitting__bow__site=site, fitting__bow__retirement=None)
    most_used = wears.order_by().values("fitting__bow").annotate(most=Max("life_used"))
    lives = Counter(_band(most, LIVES) for most in most_used.values_list("most", flat=True))
    if without := sum(kinds.values()) - sum(lives.values()):
        lives[len(LIVES)] = without
    in_service = [value for value in BowState if value != BowState.RETIRED]
    divisions = (
        Division(str(_("Kind")), _parts(kinds, [(kind.value, str(kind.label)) for kind in BowKind])),
        Division(
            str(_("Cam system")), _parts(cams, [*((c.value, str(c.label)) for c in CamSystem), ("", str(NO_CAMS))])
        ),
        Division(str(_("Where")), _parts(states, [(state.value, str(state.label)) for state in in_service])),
        Division(str(_("Age in service")), _parts(ages, [(i, str(name)) for i, (_end, name) in enumerate(AGES)])),
        Division(
            str(_("Life used, most used cord")),
            _parts(lives, [*((i, str(name)) for i, (_end, name) in enumerate(LIVES)), (len(LIVES), str(NO_WEAR))]),
        ),
    )
    return Composition(sum(kinds.values()), divisions)


def _band(value: float, bands: Sequence[tuple[float, str | Promise]]) -> int:
    return next(place for place, (end, _name) in enumerate(bands) if value < end)


def _parts(counts: "Counter[K]", names: Sequence[tuple[K, str]]) -> tuple[Share, ...]:
    """The counts with their names, in this order; parts of none are left out."""
    total = sum(counts.values())
    return tuple(Share(name, str(key), counts[key], counts[key] / total) for key, name in names if counts[key])
