"""Register rows -> what the need rules ask of each bow. One query per kind of row, however many bows."""

import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any

from fleet.models import Bow, Deferral, Hold, NoticeMatch, SignedResult, SpecSheetCord
from service.coefficient_names import NAMES
from service.drift_ahead import ARMS
from service.gather import Coefficients, coefficients
from service.heat_alarms import heat_alarms
from service.house import INSPECTING_NEEDS
from service.instants import day_of
from service.models import CordWear, TimingDrift
from service.needs import BowFacts, CordFacts, OpenHold, TimingFacts
from service.orders.wording import measured, measurement, off_by
from service.said import Figure, Said, joined, mark, say
from service.units import Units
from service.wording import named

FURTHEST_DAYS = 36_500
# Without and with the 10 % date.
INSIDE = (
    mark("%(name)s: now %(now)s by the estimate, inside %(tolerance)s for a year"),
    mark("%(name)s: now %(now)s by the estimate, inside %(tolerance)s for a year, 10 %% by %(early)s"),
)
# Without and with the 90 % date.
LEAVES = (
    mark(
        "%(name)s leaves %(tolerance)s about %(day)s (10 %% by %(early)s, 90 %% beyond a year); now %(now)s by the "
        "estimate"
    ),
    mark(
        "%(name)s leaves %(tolerance)s about %(day)s (10 %% by %(early)s, 90 %% by %(late)s); now %(now)s by the "
        "estimate"
    ),
)


def bow_facts(
    bows: list[Bow], wears: list[CordWear], drifts: list[TimingDrift], now: datetime
) -> Iterator[tuple[Bow, BowFacts]]:
    """Each bow with its facts; `wears` and `drifts` are the rows of their fitted cords, saved or not."""
    ids = [bow.pk for bow in bows]
    by_bow: dict[int, list[CordWear]] = defaultdict(list)
    for wear in wears:
        by_bow[wear.fitting.bow_id].append(wear)
    first_out, table = _first_out(drifts), coefficients()
    holds = _grouped(Hold.objects.filter(released=None).order_by("since"), ids)
    results = _grouped(SignedResult.objects.exclude(released_at=None).order_by("signed_at"), ids)
    deferrals = _grouped(Deferral.objects.order_by("at"), ids)
    looked_over = {pk: at for pk in ids if (at := _last_looked_over(results[pk])) is not None}
    alarms = heat_alarms(wears, looked_over, now)
    sheets = _sheet_cords(bows)
    matches = _grouped(NoticeMatch.objects.filter(answered_at=None, notice__holds=False).select_related("notice"), ids)
    for bow in bows:
        zone = bow.site.time_zone
        yield (
            bow,
            BowFacts(
                bow_id=bow.pk,
                bow_kind=bow.spec_sheet.bow_kind,
                in_service_on=bow.in_service_on,
                last_inspected_on=day_of(looked_over[bow.pk], zone) if bow.pk in looked_over else None,
                inspection_max_days=bow.site.inspection_max_days,
                cords=tuple(_cord(wear, zone, table) for wear in by_bow[bow.pk]),
                holds=tuple(OpenHold(h.reason, h.detail, day_of(h.since, zone)) for h in holds[bow.pk]),
                deferred={d.need_kind: d.until for d in deferrals[bow.pk]},
                missing_parts=_missing_parts(sheets[bow.spec_sheet_id], by_bow[bow.pk]),
                timing=first_out.get(bow.pk),
                heat=alarms.get(bow.pk),
                notices=tuple((m.notice.title, m.notice.due_on) for m in matches[bow.pk] if m.notice.due_on),
            ),
        )


def _grouped(rows: Any, ids: list[int]) -> dict[int, list[Any]]:
    grouped: dict[int, list[Any]] = defaultdict(list)
    for row in rows.filter(bow__in=ids):
        grouped[row.bow_id].append(row)
    return grouped


def _last_looked_over(results: list[SignedResult]) -> datetime | None:
    """When the last released order was signed in whose course the bow was looked over."""
    seen = [r.signed_at for r in results if any(work["kind"] in INSPECTING_NEEDS for work in r.work)]
    return max(seen, default=None)


def _sheet_cords(bows: list[Bow]) -> dict[int, dict[str, str]]:
    """Code of the cord spec that each spec sheet names, by position."""
    named: dict[int, dict[str, str]] = defaultdict(dict)
    rows = SpecSheetCord.objects.filter(spec_sheet__in={bow.spec_sheet_id for bow in bows})
    for sheet, position, code in rows.values_list("spec_sheet_id", "position", "cord_spec__code"):
        named[sheet][position] = code
    return named


def _missing_parts(named: dict[str, str], wears: list[CordWear]) -> dict[str, int]:
    """Cords of the set that are not on the bow (a condemned one came off): they are to be fitted as well."""
    fitted = {wear.fitting.position for wear in wears}
    return dict(Counter(code for position, code in named.items() if position not in fitted))


def _cord(wear: CordWear, zone: str, table: Coefficients) -> CordFacts:
    fitting = wear.fitting
    settle_in_shots = table.of(fitting.cord.spec_id)["settle_in_shots"].value
    return CordFacts(
        fitting_id=fitting.pk,
        position=fitting.position,
        spec_code=fitting.cord.spec.code,
        fitted_on=day_of(fitting.fitted_at, zone),
        life_used=wear.life_used,
        replace_on=wear.replace_on,
        replace_reason=wear.reason,
        inspect_within_days=wear.inspect_days,
        shots_since_fitted=wear.shots_weighted,
        shots_per_day=wear.shots_per_day,
        settled=_settled(wear, settle_in_shots),
        settle_in_shots=settle_in_shots,
        hard_limit_on=hard_limit_on(wear, zone),
    )


def hard_limit_on(wear: CordWear, zone: str) -> date | None:
    """The last day before a cord reaches its spec's hard limit at its present rate; None without a limit or a rate."""
    limit, today = wear.fitting.cord.spec.hard_limit_life, day_of(wear.as_of, zone)
    if limit is None:
        return None
    left = limit - wear.life_used
    if left <= 0.0:
        return today - timedelta(days=1)
    days = left / wear.life_per_day if wear.life_per_day > 0.0 else math.inf
    return today + timedelta(days=int(days)) if days < FURTHEST_DAYS else None


def _settled(wear: CordWear, settle_in_shots: float) -> bool:
    """A cord is settled once the bow was measured after its settle-in shots; one that came with prior use always is."""
    return wear.fitting.cord.prior_use != "none" or wear.reset_shots >= settle_in_shots


def _first_out(drifts: list[TimingDrift]) -> dict[int, TimingFacts]:
    """For each bow the measurement that is predicted to leave its tolerance first."""
    found: dict[int, TimingFacts] = {}
    for drift in sorted(drifts, key=lambda one: (one.leaves_on or date.max, one.kind)):
        if drift.leaves_on is not None and drift.bow_id not in found:
            found[drift.bow_id] = TimingFacts(drift.leaves_on, drift_told(drift))
    return found


def drift_told(drift: TimingDrift) -> Said:
    """`upper hole distance leaves 1/16 in about 2026-03-14 (10 % by .., 90 % by ..)`, in the site's units."""
    system = Units(drift.bow.site.units)
    parts = {
        "name": measurement(drift.kind),
        "now": Figure(off_by(drift.kind, drift.change_m, system)),
        "tolerance": Figure(measured(drift.kind, drift.tolerance_m, system)),
        "early": drift.leaves_from,
        "day": drift.leaves_on,
        "late": drift.leaves_until,
    }
    pattern = INSIDE if drift.leaves_on is None else LEAVES
    known = {name: part for name, part in parts.items() if part is not None}
    told = say(pattern[parts["early" if drift.leaves_on is None else "late"] is not None], **known)
    return say("%(told)s (assumed: %(names)s)", told=told, names=_assumed(drift)) if drift.assumed else told


def _assumed(drift: TimingDrift) -> Said:
    """What a drift rests on that nobody measured, published or learned."""
    geometry = say("geometry")
    return joined(", ", [geometry if name == ARMS else named(NAMES[name].name) for name in drift.assumed])
