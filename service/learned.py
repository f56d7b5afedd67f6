"""What the shop's own history teaches about the life of each cord spec: told stories in, a saved posterior out."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from django.db import transaction
from django.db.models import Q

from fleet.lookups import last_fact
from fleet.models import CordSpec, Fitting, SignedResult, TurnaroundCheck
from fleet.vocabulary import RemovalReason, Verdict
from service.book_parts import book_parts
from service.cord_lives import life_at
from service.fitted import MOST_NAMED
from service.gather import Gathered, coefficients, gather
from service.instants import epoch_s
from service.models import LifeToLearn, SpecLife, SpecReport
from service.spec_histories import SpecHistory
from service.spec_reports import report_row
from service.wear.arrays import Floats
from service.wear.coefficients import HOURS_PER_MONTH
from service.wear.learning import CordLife, LifePrior, Outcome, history_of, learn
from service.wear.weibull import WeibullLife

OUTCOMES: dict[str, Outcome] = {
    "": Outcome.FITTED,
    RemovalReason.PLANNED: Outcome.PLANNED,
    RemovalReason.CONDEMNED: Outcome.CONDEMNED,
    RemovalReason.INCIDENT: Outcome.INCIDENT,
    RemovalReason.UNKNOWN: Outcome.UNKNOWN,
}


def learn_all(now: datetime) -> list[SpecHistory]:
    """Learn every cord spec anew and save what to plan with, and what its page shows."""
    return _learn(now, None)


def learn_some(specs: list[int], now: datetime) -> list[SpecHistory]:
    """The same for some cord specs, by id."""
    return _learn(now, specs)


def _learn(now: datetime, specs: list[int] | None) -> list[SpecHistory]:
    chosen = Q() if specs is None else Q(cord_spec__in=specs)
    # Read before the history: a coefficient that changes meanwhile leaves another mark, which stays.
    marks = list(LifeToLearn.objects.filter(chosen).values_list("pk", "since"))
    read_to, found = last_fact(), histories(now, specs)
    with transaction.atomic():
        SpecLife.objects.filter(chosen).delete()
        SpecReport.objects.filter(chosen).delete()
        for pk, since in marks:
            LifeToLearn.objects.filter(pk=pk, since=since).delete()
        SpecLife.objects.bulk_create(_row(one, now) for one in found)
        SpecReport.objects.bulk_create(report_row(one, now, read_to) for one in found)
    return found


def _row(one: SpecHistory, now: datetime) -> SpecLife:
    life, b10 = one.posterior.planning_life, one.posterior.credible_b10()
    return SpecLife(
        cord_spec=one.spec,
        learned_at=now,
        eta=life.eta,
        beta=life.beta,
        b10_lower=b10.lower,
        b10_upper=b10.upper,
        condemned=one.history.condemned,
        account=one.posterior.account(),
    )


def histories(now: datetime, specs: Iterable[int] | None = None) -> list[SpecHistory]:
    """The stories of every cord of each spec (or of some), and the posterior under the spec's stated prior.

    The book is read in parts; for some specs only the bows that ever carried them.
    """
    chosen = None if specs is None else sorted(set(specs))
    on_bows = None if chosen is None else Fitting.objects.filter(cord__spec__in=chosen).values_list("bow_id", flat=True)
    stories: dict[int, list[CordLife]] = defaultdict(list)
    for part in book_parts(None if on_bows is None else set(on_bows)):
        for spec_id, told in _stories(gather(part, removed_too=True), part, now, chosen).items():
            stories[spec_id] += told
    table, found = coefficients(), []
    for spec in CordSpec.objects.all() if chosen is None else CordSpec.objects.filter(pk__in=chosen):
        history = history_of(stories[spec.pk])
        prior = LifePrior(beta=table.of(spec.pk)["weibull_shape"].value)
        found.append(SpecHistory(spec, history, prior, learn(history, prior)))
    return found


@dataclass(frozen=True)
class _Told:
    """What the register says of a cord by its last fitting; `prior_life`: life used before the book, None: unknown."""

    outcome: Outcome
    prior_life: float | None


def _stories(rows: Gathered, bow_ids: list[int], now: datetime, specs: list[int] | None) -> dict[int, list[CordLife]]:
    """Each cord once, by its last fitting, if that was on one of these bows; one moved between bows is followed."""
    keys = rows.keys
    is_last = np.append(keys.cord[1:] != keys.cord[:-1], True)[: keys.cord.size] & np.isin(keys.bow, bow_ids)
    told = _told(keys.fitting[is_last].tolist(), specs)
    last = [i for i in np.flatnonzero(is_last).tolist() if int(keys.fitting[i]) in told]
    ends = np.where(np.isnan(keys.removed_s), epoch_s(now), keys.removed_s)
    good = ends.copy()
    condemned = [i for i in last if told[int(keys.fitting[i])].outcome is Outcome.CONDEMNED]
    good[condemned] = np.minimum(_last_seen_good(rows, condemned), ends[condemned])
    at_end = life_at(rows, ends)
    at_check = life_at(rows, good) if condemned else at_end
    stories: dict[int, list[CordLife]] = defaultdict(list)
    for i in last:
        story = _story(told[int(keys.fitting[i])], float(at_end[i]), float(at_check[i]))
        stories[int(keys.spec[i])].append(story)
    return stories


def _told(fitting_ids: list[int], specs: list[int] | None) -> dict[int, _Told]:
    """What is told of these fittings (by id) whose cords are of these specs (None: of any)."""
    fittings = Fitting.objects.order_by()
    if len(fitting_ids) <= MOST_NAMED:
        fittings = fittings.filter(pk__in=fitting_ids)
    if specs is not None:
        fittings = fittings.filter(cord__spec__in=specs)
    fields = ("prior_shots", "prior_tension_h", "spec__rated_shots", "spec__rated_months")
    rows = fittings.values_list("pk", "removed_why", "cord__prior_use", *(f"cord__{field}" for field in fields))
    return {
        pk: _Told(OUTCOMES[why], _prior_life(prior_use, shots / rated, tension_h / (months * HOURS_PER_MONTH)))
        for pk, why, prior_use, shots, tension_h, rated, months in rows
    }


def _prior_life(prior_use: str, by_shots: float, by_time: float) -> float | None:
    if prior_use == "unknown":
        return None
    return by_shots + by_time if prior_use == "known" else 0.0


def _story(told: _Told, life_used: float, last_good: float) -> CordLife:
    entry = None if told.prior_life is None else min(max(life_used, 0.0), told.prior_life)
    return CordLife(told.outcome, max(life_used, 0.0), max(min(last_good, life_used), 0.0), entry)


def _last_seen_good(rows: Gathered, condemned: list[int]) -> Floats:
    """When each of these removed cords was last seen good (epoch s): at a signed order, a check found ready, or new."""
    keys = rows.keys
    fitted, removed = keys.fitted_s[condemned], keys.removed_s[condemned]
    seen: dict[int, list[float]] = defaultdict(list)
    for checks in (
        SignedResult.objects.exclude(released_at=None).values_list("bow_id", "signed_at"),
        TurnaroundCheck.objects.filter(verdict=Verdict.READY).values_list("bow_id", "at"),
    ):
        for bow, at in checks.filter(bow__in=set(keys.bow[condemned].tolist())):
            seen[bow].append(epoch_s(at))
    moments = {bow: np.sort(np.array(at)) for bow, at in seen.items()}
    found = fitted.copy()
    for row, bow in enumerate(keys.bow[condemned].tolist()):
        if bow in moments:
            before = int(np.searchsorted(moments[bow], removed[row], side="left"))
            if before:
                found[row] = max(found[row], moments[bow][before - 1])
    return found


def planning_lives() -> dict[int, WeibullLife]:
    """The life to plan each cord spec with, as last learned."""
    return {one.cord_spec_id: WeibullLife(one.eta, one.beta) for one in SpecLife.objects.all()}


def prior_life(beta: float) -> WeibullLife:
    """The life of a spec that nothing was learned of yet: B10 at rated life."""
    return WeibullLife.from_b10(LifePrior().b10, beta)


def lives_in_order(rows: Gathered, fittings: list[Fitting]) -> list[WeibullLife]:
    """The planning life of each fitting's cord spec."""
    learned = planning_lives()
    return [
        learned.get(f.cord.spec_id) or prior_life(rows.coefficients.of(f.cord.spec_id)["weibull_shape"].value)
        for f in fittings
    ]
