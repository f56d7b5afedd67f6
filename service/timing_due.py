"""The timing list: for each bow the measurement that is predicted to leave its tolerance first, the soonest on top."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, F, Min, OuterRef, QuerySet

from fleet.models import Bow, Site
from service.models import TimingDrift


@dataclass(frozen=True)
class BowTiming:
    """One bow: what leaves its tolerance first, and what else does after it. `is_past`: its day has come."""

    bow: Bow
    first: TimingDrift
    others: tuple[TimingDrift, ...]
    is_past: bool


def bows_in_order(site: Site) -> "QuerySet[Bow, int]":
    """Numbers of the bows in service whose drift is predicted, the soonest first; those inside for a year come last."""
    bows = Bow.objects.filter(site=site, retirement=None, drifts__isnull=False)
    first = bows.annotate(leaves_on=Min("drifts__leaves_on"), leaves_from=Min("drifts__leaves_from"))
    soonest = (F(name).asc(nulls_last=True) for name in ("leaves_on", "leaves_from"))
    return first.order_by(*soonest, "tag").values_list("pk", flat=True)


def counts_of(site: Site) -> tuple[int, int]:
    """How many bows in service there are whose drift is predicted, and how many of which nothing can be."""
    bows = Bow.objects.filter(site=site, retirement=None)
    predicted = bows.filter(pk__in=TimingDrift.objects.order_by().values("bow")).count()
    return predicted, bows.count() - predicted


def timings_of(bow_ids: Sequence[int], today: date) -> list[BowTiming]:
    """What leaves its tolerance first on each of these bows, in their order; one query."""
    drifts = TimingDrift.objects.filter(bow__in=bow_ids).select_related("bow__site", "bow__spec_sheet")
    by_bow: dict[int, list[TimingDrift]] = {}
    for one in drifts.order_by(F("leaves_on").asc(nulls_last=True), F("leaves_from").asc(nulls_last=True), "kind"):
        by_bow.setdefault(one.bow_id, []).append(one)
    return [_timing(by_bow[pk], today) for pk in bow_ids]


def _timing(own: list[TimingDrift], today: date) -> BowTiming:
    first, *others = own
    is_past = first.leaves_on is not None and first.leaves_on <= today
    return BowTiming(first.bow, first, tuple(one for one in others if one.leaves_on is not None), is_past)


def without_drift(site: Site) -> "QuerySet[Bow]":
    """Bows in service of which nothing can be predicted: no reference lengths with a tolerance, or no cords."""
    drifts = TimingDrift.objects.filter(bow=OuterRef("pk"))
    return Bow.objects.filter(~Exists(drifts), site=site, retirement=None).order_by("tag")
