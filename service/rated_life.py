"""What another rated life of a cord spec would do to the coming year's replacements. Nothing is saved."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext_lazy as _

from fleet.models import CordSpec, Fitting, Site
from service.learned import planning_lives, prior_life
from service.models import CordWear
from service.replacement_costs import costs_of, labour_of, wait_days
from service.spec_histories import SpecLives
from service.wear.arrays import Floats
from service.wear.coefficients import DEFAULTS
from service.wear.learning import LifePrior, learn
from service.wear.renewals import SetsAhead, changes_ahead
from service.wear.replacement import Binding, replacement_point
from service.wear.weibull import WeibullLife

AHEAD_DAYS = 365
LEAST_PERCENT, MOST_PERCENT = 25.0, 400.0
# Simulated sets in all: enough for a mean within 1 %, few enough to answer while somebody waits.
SETS_DRAWN = 60_000
FEWEST_DRAWS, MOST_DRAWS = 12, 1_000
# Every choice is drawn with the same chances, so that they differ by the rated life alone.
SEED = 20_260_701
TAIL = 0.1
BINDINGS = {
    Binding.OPTIMUM: _("costs least"),
    Binding.CAP: _("the house's cap"),
    Binding.HARD_LIMIT: _("the hard limit"),
}


@dataclass(frozen=True)
class RatedLife:
    """The coming year at `percent` of today's rated life; sets and cost with 10 and 90 % bounds.

    `point`: where the cord would be replaced, as a share of today's rated life. `planned`, `condemned`: sets
    changed in the year in good time, and because a cord was condemned.
    """

    percent: float
    rated_shots: int
    rated_months: float
    point: float
    binding: Binding
    planned: float
    condemned: float
    sets_low: float
    sets_high: float
    cost: float
    cost_low: float
    cost_high: float

    @property
    def binding_name(self) -> str:
        """What sets the replacement point, in words."""
        return str(BINDINGS[self.binding])

    @property
    def sets(self) -> float:
        """Sets changed in the year, planned and condemned."""
        return self.planned + self.condemned


@dataclass(frozen=True, eq=False)
class _Fleet:
    """The site's bows with the spec: their cords as arrays (n, cords), which are the spec's, costs (n,)."""

    sets: SetsAhead
    of_spec: "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]"
    kinds: list[str]
    planned_cost: Floats
    condemned_cost: Floats


def years_ahead(found: SpecLives, site: Site, percents: Sequence[float]) -> list[RatedLife]:
    """The coming year of one site for each rated life, in percent of today's; [] where no bow carries the spec.

    The belief before any history moves with the rated life (that is what rating means); what the shop has seen stays,
    and so do use ahead, costs, and the other cords of each set.
    """
    for percent in percents:
        if not LEAST_PERCENT <= percent <= MOST_PERCENT:
            raise ValueError(
                f"{percent:g} % of the rated life: allowed is {LEAST_PERCENT:g} to {MOST_PERCENT:g} %; "
                "a cord outside it is another make: give it a cord spec of its own."
            )
    fleet = _fleet(found.spec, site)
    if fleet is None:
        return []
    return [_year(found, site, fleet, percent) for percent in percents]


def _fleet(spec: CordSpec, site: Site) -> _Fleet | None:
    there = Fitting.objects.filter(cord__spec=spec, removed_at=None, bow__site=site, bow__retirement=None)
    wears = CordWear.objects.filter(fitting__removed_at=None, fitting__bow__in=there.values("bow")).order_by(
        "fitting__bow", "fitting__position"
    )
    fields = ("life_used", "life_per_day", "replacement_point", "fitting__cord__spec_id", "fitting__bow_id")
    by_bow: dict[int, list[tuple[float, float, float, int, str]]] = defaultdict(list)
    for used, per_day, point, of, bow, kind in wears.values_list(*fields, "fitting__bow__spec_sheet__bow_kind"):
        by_bow[bow].append((max(used, 0.0), max(per_day, 0.0), point, of, kind))
    if not by_bow:
        return None
    cords = list(by_bow.values())
    shape = (len(cords), max(len(rows) for rows in cords))
    columns = np.full((3, *shape), np.nan)
    eta, beta = np.full(shape, np.nan), np.full(shape, np.nan)
    of_spec = np.zeros(shape, dtype=np.bool_)
    lives, specs = planning_lives(), CordSpec.objects.in_bulk()
    for i, rows in enumerate(cords):
        for j, (used, per_day, point, of, _kind) in enumerate(rows):
            life = lives.get(of) or prior_life(DEFAULTS["weibull_shape"].value)
            columns[:, i, j], eta[i, j], beta[i, j] = (used, per_day, point), life.eta, life.beta
            of_spec[i, j] = of == spec.pk
    kinds = [rows[0][4] for rows in cords]
    labour = {kind: labour_of(site, kind) for kind in set(kinds)}
    planned = np.array(
        [
            sum(float(specs[of].price) for *_, of, _kind in rows) + labour[kind]
            for rows, kind in zip(cords, kinds, strict=True)
        ]
    )
    wait = np.array([max(wait_days(specs[of].lead_days) for *_, of, _kind in rows) for rows in cords])
    return _Fleet(
        SetsAhead(columns[0], columns[1], columns[2], eta, beta),
        of_spec,
        kinds,
        planned,
        planned + wait * float(site.rental_value_per_day),
    )


def _year(found: SpecLives, site: Site, fleet: _Fleet, percent: float) -> RatedLife:
    spec, factor = found.spec, percent / 100.0
    prior = LifePrior(b10=factor, beta=found.prior.beta)
    life = learn(found.history, prior).planning_life
    hard = None if spec.hard_limit_life is None else spec.hard_limit_life * factor
    by_kind = {
        kind: replacement_point(life, costs_of(spec, site, kind), site.replacement_cap * factor, hard)
        for kind in set(fleet.kinds)
    }
    points = np.array([by_kind[kind].life_used for kind in fleet.kinds])
    sets = _with(fleet, points, life)
    draws = int(np.clip(SETS_DRAWN // sets.life_used.shape[0], FEWEST_DRAWS, MOST_DRAWS))
    changes = changes_ahead(sets, float(AHEAD_DAYS), draws, np.random.default_rng(SEED))
    count = (changes.planned + changes.condemned).sum(axis=1)
    cost = changes.planned @ fleet.planned_cost + changes.condemned @ fleet.condemned_cost
    first = by_kind[fleet.kinds[0]]
    return RatedLife(
        percent=percent,
        rated_shots=round(spec.rated_shots * factor),
        rated_months=spec.rated_months * factor,
        point=first.life_used,
        binding=first.binding,
        planned=float(changes.planned.sum(axis=1).mean()),
        condemned=float(changes.condemned.sum(axis=1).mean()),
        sets_low=float(np.quantile(count, TAIL)),
        sets_high=float(np.quantile(count, 1.0 - TAIL)),
        cost=float(cost.mean()),
        cost_low=float(np.quantile(cost, TAIL)),
        cost_high=float(np.quantile(cost, 1.0 - TAIL)),
    )


def _with(fleet: _Fleet, points: Floats, life: WeibullLife) -> SetsAhead:
    """The sets with the spec's cords replaced at other points and lasting another life."""
    sets, mine = fleet.sets, fleet.of_spec
    return SetsAhead(
        sets.life_used,
        sets.per_day,
        np.where(mine, points[:, None], sets.point),
        np.where(mine, life.eta, sets.eta),
        np.where(mine, life.beta, sets.beta),
    )
