"""The timing list: for each bow the measurement that is predicted to leave its tolerance first, the soonest on top."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import F

from fleet.models import Bow, Site
from service.models import TimingDrift


@dataclass(frozen=True)
class BowTiming:
    """One bow: what leaves its tolerance first, and what else does after it. `is_past`: its day has come."""

    bow: Bow
    first: TimingDrift
    others: tuple[TimingDrift, ...]
    is_past: bool


def timings_of(site: Site, today: date) -> list[BowTiming]:
    """Every bow in service whose drift is predicted, the soonest first; those that stay inside for a year come last."""
    drifts = TimingDrift.objects.filter(bow__site=site, bow__retirement=None).select_related(
        "bow__site", "bow__spec_sheet"
    )
    by_bow: dict[int, list[TimingDrift]] = {}
    for one in drifts.order_by(
        F("leaves_on").asc(nulls_last=True), F("leaves_from").asc(nulls_last=True), "bow__tag", "kind"
    ):
        by_bow.setdefault(one.bow_id, []).append(one)
    return [_timing(own, today) for own in by_bow.values()]


def _timing(own: list[TimingDrift], today: date) -> BowTiming:
    first, *others = own
    is_past = first.leaves_on is not None and first.leaves_on <= today
    return BowTiming(first.bow, first, tuple(one for one in others if one.leaves_on is not None), is_past)


def without_drift(site: Site, timings: Iterable[BowTiming]) -> list[Bow]:
    """Bows in service of which nothing can be predicted: no reference lengths with a tolerance, or no cords."""
    known = {one.bow.pk for one in timings}
    return [bow for bow in Bow.objects.filter(site=site, retirement=None).order_by("tag") if bow.pk not in known]
