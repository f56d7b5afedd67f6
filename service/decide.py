"""Gather, calculate, save: the wear of every fitted cord and what each bow needs.

`refresh` computes some bows anew, `rebuild` all of them; both are the same code on more or fewer rows, so an update
after one event equals the full rebuild. Everything saved here can be dropped.
"""

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from django.db import connection, transaction

from fleet.models import Bow, Fitting, Shots, Site
from fleet.vocabulary import Position
from service.book_parts import book_parts
from service.bow_facts import bow_facts
from service.cord_lives import CordLives, cord_lives
from service.dates_ahead import replacement_bounds
from service.drift_ahead import stretching, timing_drifts
from service.guest_models import GuestBow
from service.guests.shapes import guest_bows
from service.house import BENCH_WORK
from service.instants import day_of
from service.learned import learn_all
from service.models import CordWear, Need, StaleBow, TimingDrift
from service.needs import needs_of
from service.one_entry import lives_after
from service.use_ahead import learn_site_use
from service.wear_rows import points_of, wear_row

BATCH = 500
# Bows that are computed in one transaction by day: a tenth of a second or two.
TURN = 50
# And by night, where one transaction holds up everybody else who writes: a second or so.
NIGHT_TURN = 200


def rebuild(now: datetime) -> int:
    """Learn anew, then compute every fitted cord and every need; returns how many cords.

    Part by part, each in a transaction of its own as by night: neither the memory that it takes nor the wait of
    somebody who writes meanwhile grows with the number of sites.
    """
    learn_all(now)
    for site in Site.objects.all():
        learn_site_use(site, now)
    count = sum(refresh_in_turns(part, now) for part in book_parts())
    _count_anew()
    return count


def _count_anew() -> None:
    """Let the database count its rows: without counts SQLite picks the slower index for the long lists."""
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def refresh(bow_ids: Iterable[int], now: datetime) -> int:
    """Compute the cords and needs of some bows anew."""
    ids = sorted(set(bow_ids))
    with transaction.atomic():
        # The marks go first: a fact that is written meanwhile waits for this and then marks its bow again.
        StaleBow.objects.filter(bow__in=ids).delete()
        CordWear.objects.filter(fitting__bow__in=ids).exclude(fitting__removed_at=None).delete()
        found = _computed(ids, cord_lives(ids, now), now)
        _save(ids, found)
    return len(found.wears)


def refresh_in_turns(bow_ids: Iterable[int], now: datetime) -> int:
    """Compute many bows anew, in several transactions where the engine has one writer at a time (SQLite)."""
    ids = sorted(set(bow_ids))
    turn = len(ids) if connection.features.has_select_for_update else NIGHT_TURN
    return sum(refresh(ids[start : start + turn], now) for start in range(0, len(ids), turn or 1))


def add_entry(bow_id: int, token: str, added: list[Shots], struck: list[Shots], now: datetime) -> None:
    """Bring one bow up to date after one change of its shots, if that is all that its mark says.

    Computed before anything is locked: whatever else happens to the bow meanwhile changes its mark, and then nothing
    is saved here, for whoever changed it computes the bow.
    """
    marked = StaleBow.objects.filter(bow=bow_id, entry=token)
    if not marked.exists():
        return
    found = _computed([bow_id], lives_after(bow_id, added, struck, now) or cord_lives([bow_id], now), now)
    with transaction.atomic():
        mark = marked.select_for_update().first()
        if mark is not None:
            mark.delete()
            _save([bow_id], found)


def refresh_stale(now: datetime, *, at_most: int | None = None) -> int:
    """Compute the bows whose facts changed since; returns how many bows.

    Turn by turn: on SQLite nobody else writes meanwhile, and whoever waits for long is refused. With more than
    `at_most` (a page that somebody waits for) none is computed: they are left to the minute's refresh.
    """
    waiting = StaleBow.objects.values_list("bow_id", flat=True)
    ids = list(waiting if at_most is None else waiting[: at_most + 1])
    if at_most is not None and len(ids) > at_most:
        return 0
    return sum(_still_stale(ids[start : start + TURN], now) for start in range(0, len(ids), TURN))


def _still_stale(bow_ids: list[int], now: datetime) -> int:
    with transaction.atomic():
        # Several people may open a page of the day at once: whoever comes first computes these.
        still = list(StaleBow.objects.select_for_update().filter(bow__in=bow_ids).values_list("bow_id", flat=True))
        if still:
            refresh(still, now)
    return len(still)


def differences(tolerance: float = 1e-9) -> list[str]:
    """What is saved and would come out otherwise if computed as of the same instants; for `rebuild --check`.

    Bows that wait for their refresh are left out: they are known to be behind.
    """
    waiting = StaleBow.objects.values("bow")
    saved = {
        wear.fitting_id: wear for wear in CordWear.objects.select_related("fitting").exclude(fitting__bow__in=waiting)
    }
    by_instant: dict[datetime, set[int]] = defaultdict(set)
    for wear in saved.values():
        by_instant[wear.as_of].add(wear.fitting.bow_id)
    found: list[str] = []
    for instant, bow_ids in sorted(by_instant.items()):
        lives = cord_lives(bow_ids, instant)
        computed = zip(lives.fittings, lives.life.total.tolist(), lives.creep.per_month.tolist(), strict=True)
        for fitting, life_used, creep in computed:
            there = saved.pop(fitting.pk, None)
            if there is None or there.as_of != instant:
                found.append(f"{_named(fitting)}: not computed together with the other cords of its bow")
            elif abs(there.life_used - life_used) > tolerance:
                found.append(f"{_named(fitting)}: saved {there.life_used!r}, computed {life_used!r}")
            elif not math.isclose(there.creep_per_month, creep, rel_tol=tolerance):
                found.append(f"{_named(fitting)}: creep saved {there.creep_per_month!r}, computed {creep!r}")
    unknown = Fitting.objects.filter(removed_at=None, wear=None).exclude(bow__in=waiting).select_related("bow")
    found += [f"{_named(fitting)}: never computed" for fitting in unknown]
    return found + [f"{_named(wear.fitting)}: saved, but no longer fitted" for wear in saved.values()]


def _named(fitting: Fitting) -> str:
    return f"{fitting.bow.tag} {Position(fitting.position).label}"


@dataclass(frozen=True)
class _Computed:
    """What is saved of some bows."""

    wears: list[CordWear]
    drifts: list[TimingDrift]
    needs: list[Need]
    for_guests: list[GuestBow]


def _computed(bow_ids: list[int], lives: CordLives, now: datetime) -> _Computed:
    """Wear, drift and needs of these bows, and how guests find them; nothing is saved here."""
    rows = wears(lives, now)
    drifts = timing_drifts(lives, stretching(lives), now) if rows else []
    bows = list(Bow.objects.select_related("site", "spec_sheet").filter(retirement=None, pk__in=bow_ids))
    return _Computed(rows, drifts, needs_from(bows, rows, drifts, now), guest_bows(bows, rows, now))


def _save(bow_ids: list[int], found: _Computed) -> None:
    fields = [field.name for field in CordWear._meta.concrete_fields if field.name not in ("id", "fitting")]
    CordWear.objects.bulk_create(
        found.wears, update_conflicts=True, unique_fields=["fitting"], update_fields=fields, batch_size=BATCH
    )
    TimingDrift.objects.filter(bow__in=bow_ids).delete()
    TimingDrift.objects.bulk_create(found.drifts, batch_size=BATCH)
    Need.objects.filter(bow__in=bow_ids).delete()
    Need.objects.bulk_create(found.needs, batch_size=BATCH)
    GuestBow.objects.filter(bow__in=bow_ids).delete()
    GuestBow.objects.bulk_create(found.for_guests, batch_size=BATCH)


def wears(lives: CordLives, now: datetime) -> list[CordWear]:
    """The rows to save, one per fitted cord."""
    if not lives.fittings:
        return []
    stretch = stretching(lives)
    known = points_of(lives)
    bounds = replacement_bounds(lives, np.array([point.life_used for point, _ in known]), now)
    return [wear_row(lives, stretch, i, known[i], bounds[i], now) for i in range(len(lives.fittings))]


def needs_from(bows: list[Bow], rows: list[CordWear], drifts: list[TimingDrift], now: datetime) -> list[Need]:
    """What each bow needs by these rows of wear and drift, saved or not; nothing is saved here."""
    found: list[Need] = []
    for bow, facts in bow_facts(bows, rows, drifts, now):
        today = day_of(now, bow.site.time_zone)
        for need in needs_of(facts, today):
            work = BENCH_WORK[need.kind]
            found.append(
                Need(
                    bow=bow,
                    fitting_id=need.fitting_id,
                    kind=need.kind,
                    reason=need.reason,
                    earliest_on=need.earliest_on,
                    due_on=need.due_on,
                    latest_on=need.latest_on,
                    minutes=work.minutes(bow.spec_sheet.bow_kind),
                    skill=work.skill,
                    needs_press=work.press(bow.spec_sheet.bow_kind),
                    holds=need.holds,
                    parts=need.parts,
                )
            )
    return found


def as_of(instant: datetime, site: Site | None) -> list[CordWear]:
    """The wear of the cords fitted now, computed as of another instant; nothing is saved. Soonest first."""
    bows = Bow.objects.filter(retirement=None)
    if site is not None:
        bows = bows.filter(site=site)
    found = wears(cord_lives(bows.values_list("pk", flat=True), instant), instant)
    return sorted(
        found, key=lambda w: (w.replace_on is None, w.replace_on or instant.date(), -w.life_used, w.fitting_id)
    )
