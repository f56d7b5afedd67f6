"""What the plan starts from: the needs and the wear behind them, saved or worked out for a what-if."""

from dataclasses import dataclass, field
from datetime import date

from fleet.models import Bow, Site
from fleet.vocabulary import BowKind
from service.models import CordWear, Need, NeedKind, OrderStatus, TimingDrift, WorkOrder
from service.said import Said, say
from service.wording import named as label_as_part

AFTER_NEW_SET = " after the new set"
"""How the lasting name ends of a need that a planned replacement will call for."""


@dataclass(frozen=True)
class Facts:
    """Needs, wear and drift of a site's bows; `use_factor` multiplies the chance hires to come."""

    needs: list[Need]
    wears: list[CordWear]
    drifts: list[TimingDrift] = field(default_factory=list)
    use_factor: float = 1.0

    def first_out(self) -> dict[int, TimingDrift]:
        """For each bow the measurement that is predicted to leave its tolerance first."""
        found: dict[int, TimingDrift] = {}
        for drift in sorted(self.drifts, key=lambda one: (one.leaves_on or date.max, one.kind)):
            if drift.leaves_on is not None:
                found.setdefault(drift.bow_id, drift)
        return found


def saved_facts(site: Site) -> Facts:
    """As last computed and saved."""
    needs = Need.objects.filter(bow__site=site).select_related("bow__spec_sheet", "bow__site")
    ids = {need.bow_id for need in needs}
    wears = CordWear.objects.filter(fitting__bow__in=ids, fitting__removed_at=None)
    return Facts(
        list(needs),
        list(wears.select_related("fitting__cord__spec", "fitting__bow")),
        list(TimingDrift.objects.filter(bow__in=ids)),
    )


def open_needs(site: Site, facts: Facts, last_day: date) -> list[Need]:
    """Needs that may be done by the last day, of bows that have no order in work: those are on their way."""
    begun = WorkOrder.objects.filter(site=site, status__in=[OrderStatus.IN_WORK, OrderStatus.SIGNED])
    busy = set(begun.values_list("bow", flat=True))
    found = [need for need in facts.needs if need.earliest_on <= last_day and need.bow_id not in busy]
    return sorted(found, key=lambda need: (need.bow.tag, need.kind))


@dataclass(frozen=True)
class NamedNeed:
    """A need of the plan by a name that outlives every refresh: its bow and kind, and which set it is for.

    `after_new_set`: the settle-in re-check that a planned replacement will call for; no such need exists yet.
    """

    bow: Bow
    kind: str
    reason: str
    due_on: date
    minutes: int
    holds: bool = False
    fitting_id: int | None = None
    after_new_set: bool = False

    @property
    def id(self) -> str:
        """`HW-012 replacement`: the same whatever language is spoken."""
        return str(self.called)

    @property
    def called(self) -> Said:
        """The need in the reasons that the plan gives, for whoever reads them."""
        return _called(self.bow.tag, label_as_part(NeedKind(self.kind).label), self.after_new_set)

    def as_saved(self) -> dict[str, object]:
        """What a planned job keeps of it."""
        return {
            "id": self.id,
            "kind": self.kind,
            "reason": self.reason,
            "fitting": self.fitting_id,
            "due_on": self.due_on.isoformat(),
            "after_new_set": self.after_new_set,
        }


def called_by(lasting: str) -> str:
    """A need's lasting name (`HW-012 replacement`) for whoever reads it; what is none stays as it is."""
    for kind in NeedKind:
        part = label_as_part(kind.label)
        for after_new_set, ending in ((True, f" {part}{AFTER_NEW_SET}"), (False, f" {part}")):
            if lasting.endswith(ending):
                return _called(lasting.removesuffix(ending), part, after_new_set)
    return lasting


def _called(tag: str, kind: Said, after_new_set: bool) -> Said:
    if after_new_set:
        return say("%(tag)s %(kind)s after the new set", tag=tag, kind=kind)
    return say("%(tag)s %(kind)s", tag=tag, kind=kind)


def named(need: Need) -> NamedNeed:
    """A computed need by its lasting name."""
    return NamedNeed(
        need.bow, need.kind, need.reason, need.due_on, need.minutes, need.holds, need.fitting_id, after_new_set=False
    )


def calls_for_settle_in(need: Need) -> bool:
    """Whether a new set on this bow has to be measured again after its first shots."""
    return need.kind == NeedKind.REPLACEMENT and need.bow.spec_sheet.bow_kind == BowKind.COMPOUND
