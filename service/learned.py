"""What the shop's own history teaches about the life of each cord spec: told stories in, a saved posterior out."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from fleet.models import CordSpec, Fitting, SignedResult, TurnaroundCheck
from fleet.vocabulary import RemovalReason, Verdict
from service.cord_lives import life_at
from service.gather import Gathered, gather
from service.instants import epoch_s
from service.models import SpecLife
from service.wear.coefficients import HOURS_PER_MONTH
from service.wear.learning import CordLife, History, LifePosterior, LifePrior, Outcome, history_of, learn
from service.wear.weibull import WeibullLife

OUTCOMES: dict[str, Outcome] = {
    "": Outcome.FITTED,
    RemovalReason.PLANNED: Outcome.PLANNED,
    RemovalReason.CONDEMNED: Outcome.CONDEMNED,
    RemovalReason.INCIDENT: Outcome.INCIDENT,
    RemovalReason.UNKNOWN: Outcome.UNKNOWN,
}


@dataclass(frozen=True)
class SpecHistory:
    """The stories of one cord spec's cords, and what they teach."""

    spec: CordSpec
    stories: list[CordLife]
    history: History
    posterior: LifePosterior


def learn_all(now: datetime) -> list[SpecHistory]:
    """Learn every cord spec anew and save what to plan with."""
    found = histories(now)
    SpecLife.objects.all().delete()
    SpecLife.objects.bulk_create(_row(one, now) for one in found)
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
    """The stories of every cord of each spec (or of some), and the posterior under the spec's stated prior."""
    rows = gather(None, removed_too=True)
    stories = _stories(rows, now)
    chosen = CordSpec.objects.all() if specs is None else CordSpec.objects.filter(pk__in=list(specs))
    found = []
    for spec in chosen:
        history = history_of(stories[spec.pk])
        prior = LifePrior(beta=rows.coefficients.of(spec.pk)["weibull_shape"].value)
        found.append(SpecHistory(spec, stories[spec.pk], history, learn(history, prior)))
    return found


def _stories(rows: Gathered, now: datetime) -> dict[int, list[CordLife]]:
    """Each cord once, by its last fitting; a cord moved between bows is followed through."""
    last = {fitting.cord_id: i for i, fitting in enumerate(rows.fittings)}
    ends = np.array([epoch_s(f.removed_at or now) for f in rows.fittings])
    checks = _last_checks(rows.fittings)
    good = np.array([max(checks.get(f.pk, -np.inf), epoch_s(f.fitted_at)) for f in rows.fittings])
    at_end, at_check = life_at(rows, ends), life_at(rows, np.minimum(good, ends))
    stories: dict[int, list[CordLife]] = defaultdict(list)
    for i in last.values():
        stories[rows.fittings[i].cord.spec_id].append(_story(rows.fittings[i], float(at_end[i]), float(at_check[i])))
    return stories


def _story(fitting: Fitting, life_used: float, last_good: float) -> CordLife:
    cord = fitting.cord
    entry: float | None = 0.0
    if cord.prior_use == "unknown":
        entry = None
    elif cord.prior_use == "known":
        months_h = cord.spec.rated_months * HOURS_PER_MONTH
        entry = min(life_used, cord.prior_shots / cord.spec.rated_shots + cord.prior_tension_h / months_h)
    return CordLife(OUTCOMES[fitting.removed_why], max(life_used, 0.0), max(min(last_good, life_used), 0.0), entry)


def _last_checks(fittings: list[Fitting]) -> dict[int, float]:
    """The last instant at which a removed cord was seen good: a signed order or a turnaround check found ready."""
    by_bow: dict[int, list[float]] = defaultdict(list)
    for bow, at in SignedResult.objects.exclude(released_at=None).values_list("bow_id", "signed_at"):
        by_bow[bow].append(epoch_s(at))
    for bow, at in TurnaroundCheck.objects.filter(verdict=Verdict.READY).values_list("bow_id", "at"):
        by_bow[bow].append(epoch_s(at))
    found: dict[int, float] = {}
    for fitting in fittings:
        end = epoch_s(fitting.removed_at) if fitting.removed_at else np.inf
        before: list[float] = [at for at in by_bow[fitting.bow_id] if epoch_s(fitting.fitted_at) <= at < end]
        if before:
            found[fitting.pk] = max(before)
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
