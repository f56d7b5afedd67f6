"""Everything the shop knows of one bow, gathered once for whoever shows it."""

from dataclasses import dataclass
from datetime import datetime

from fleet import lookups
from fleet.models import AuditEntry, Bow, Fitting, ReferenceSet, SetUp, Shots, SignedResult
from fleet.vocabulary import BowState
from service.deferring import DeferralLimit, deferral_limit
from service.models import OPEN_ORDER, CordWear, Need, TimingDrift, WorkOrder
from service.verdict import Verdict
from service.verdicts import verdict_of

LATEST_ROWS = 30


@dataclass(frozen=True)
class BowCard:
    """One bow: the answer first, then what it needs, its cords, its own setting, and what happened to it."""

    bow: Bow
    state: BowState
    verdict: Verdict
    set_up: SetUp | None
    needs: list[Need]
    deferral: DeferralLimit | None
    order: WorkOrder | None
    wears: list[CordWear]
    without_wear: list[Fitting]
    missing: list[str]
    reference_set: ReferenceSet | None
    drifts: list[TimingDrift]
    results: list[SignedResult]
    removed: list[Fitting]
    shots: list[Shots]
    history: list[AuditEntry]


def card_of(bow: Bow, now: datetime) -> BowCard:
    """The card of a bow as of now; long lists end after the latest LATEST_ROWS."""
    wears = CordWear.objects.filter(fitting__bow=bow, fitting__removed_at=None).select_related("fitting__cord__spec")
    results = bow.results.select_related("performed_by", "released_by").prefetch_related("measurements")
    return BowCard(
        bow=bow,
        state=BowState(lookups.state_of(bow)),
        verdict=verdict_of(bow, now),
        set_up=lookups.set_up_at(bow, now),
        needs=list(bow.needs.order_by("due_on")),
        deferral=deferral_limit(bow),
        order=bow.orders.filter(status__in=OPEN_ORDER).first(),
        wears=list(wears.order_by("fitting__position")),
        without_wear=list(lookups.fitted(bow).filter(wear=None)),
        missing=lookups.missing_positions(bow),
        reference_set=lookups.current_reference_set(bow),
        drifts=list(bow.drifts.all()),
        results=list(results.order_by("-signed_at")[:LATEST_ROWS]),
        removed=list(bow.fittings.exclude(removed_at=None).select_related("cord__spec").order_by("-removed_at")),
        shots=list(bow.shots.filter(superseded_at=None).order_by("-start")[:LATEST_ROWS]),
        history=list(bow.audit.select_related("person")[:LATEST_ROWS]),
    )
