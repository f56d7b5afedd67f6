"""Register rows -> what the need rules ask of each bow. One query per kind of row, however many bows."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from fleet.models import Bow, Deferral, Hold, NoticeMatch, ReferenceSet, SignedResult
from fleet.vocabulary import Origin
from service.house import INSPECTING_NEEDS, MEASURED_NEEDS
from service.instants import SECONDS_PER_DAY, day_of
from service.models import CordWear
from service.needs import BowFacts, CordFacts, OpenHold
from service.wear.coefficients import DEFAULTS

SETTLE_IN_SHOTS = DEFAULTS["settle_in_shots"].value


def bow_facts(bows: list[Bow], wears: list[CordWear], now: datetime) -> Iterator[tuple[Bow, BowFacts]]:
    """Each bow with its facts; `wears` are the wear rows of their fitted cords, saved or not."""
    ids = [bow.pk for bow in bows]
    by_bow: dict[int, list[CordWear]] = defaultdict(list)
    for wear in wears:
        by_bow[wear.fitting.bow_id].append(wear)
    holds = _grouped(Hold.objects.filter(released=None).order_by("since"), ids)
    results = _grouped(SignedResult.objects.exclude(released_at=None).order_by("signed_at"), ids)
    sets = _grouped(ReferenceSet.objects.all(), ids)
    deferrals = _grouped(Deferral.objects.order_by("at"), ids)
    matches = _grouped(NoticeMatch.objects.filter(answered_at=None, notice__holds=False).select_related("notice"), ids)
    for bow in bows:
        zone = bow.site.time_zone
        yield (
            bow,
            BowFacts(
                bow_id=bow.pk,
                bow_kind=bow.spec_sheet.bow_kind,
                in_service_on=bow.in_service_on,
                last_inspected_on=_last_inspected(results[bow.pk], zone),
                inspection_max_days=bow.site.inspection_max_days,
                cords=tuple(_cord(wear, _measured_at(results[bow.pk], sets[bow.pk]), zone) for wear in by_bow[bow.pk]),
                holds=tuple(OpenHold(h.reason, h.detail, day_of(h.since, zone)) for h in holds[bow.pk]),
                deferred={d.need_kind: d.until for d in deferrals[bow.pk]},
                notices=tuple((m.notice.title, m.notice.due_on) for m in matches[bow.pk] if m.notice.due_on),
            ),
        )


def _grouped(rows: Any, ids: list[int]) -> dict[int, list[Any]]:
    grouped: dict[int, list[Any]] = defaultdict(list)
    for row in rows.filter(bow__in=ids):
        grouped[row.bow_id].append(row)
    return grouped


def _last_inspected(results: list[SignedResult], zone: str) -> date | None:
    seen = [r.signed_at for r in results if any(work["kind"] in INSPECTING_NEEDS for work in r.work)]
    return day_of(max(seen), zone) if seen else None


def _measured_at(results: list[SignedResult], sets: list[ReferenceSet]) -> list[datetime]:
    """When the bow was measured through: at signed orders that end measured, and at reference sets taken on it."""
    orders = [r.signed_at for r in results if any(work["kind"] in MEASURED_NEEDS for work in r.work)]
    return orders + [one.taken_at for one in sets if one.origin != Origin.MAKER]


def _cord(wear: CordWear, measured_at: list[datetime], zone: str) -> CordFacts:
    fitting = wear.fitting
    return CordFacts(
        fitting_id=fitting.pk,
        position=fitting.position,
        spec_code=fitting.cord.spec.code,
        fitted_on=day_of(fitting.fitted_at, zone),
        life_used=wear.life_used,
        replace_on=wear.replace_on,
        replace_reason=wear.reason,
        inspect_within_days=float("inf"),
        shots_since_fitted=wear.shots_weighted,
        shots_per_day=wear.shots_per_day,
        settled=_settled(wear, measured_at),
        settle_in_shots=SETTLE_IN_SHOTS,
    )


def _settled(wear: CordWear, measured_at: list[datetime]) -> bool:
    """A cord is settled once the bow was measured after its settle-in shots; one that came with prior use always is.

    How many shots it had when it was measured is reckoned back from now at its mean rate.
    """
    if wear.fitting.cord.prior_use != "none":
        return True
    return any(
        wear.shots_weighted - wear.shots_per_day * (wear.as_of - moment).total_seconds() / SECONDS_PER_DAY
        >= SETTLE_IN_SHOTS
        for moment in measured_at
        if moment > wear.fitting.fitted_at
    )
