"""Facts changed -> wear is stale; a few bows are computed at once after the commit, many by the next refresh.

The mark is written in the transaction that writes the fact, so that a crash cannot lose it. A single entry of shots
names itself in the mark: if nothing else happened meanwhile, its own contribution is all that is computed.
"""

from datetime import UTC, datetime, timedelta
from typing import Any

from django.db import connection, transaction
from django.db.models import Q
from django.dispatch import receiver

from fleet.models import Fitting, Shots, Stay
from fleet.signals import bows_touched, places_touched, shots_changed
from service import decide
from service.models import StaleBow
from service.wear.coefficients import DEFAULTS

AT_ONCE = 20
# The longest gap between two readings that any house setting bridges: so far back a new reading changes the heat.
GAP = timedelta(hours=DEFAULTS["max_bridged_gap"].high)
BATCH = 1_000


@receiver(bows_touched)
def mark_bows(bow_ids: set[int], **_kwargs: Any) -> None:
    """Mark bows, and those that now carry a cord that was once on them."""
    now, ids = datetime.now(UTC), bow_ids | _carriers(bow_ids)
    StaleBow.objects.bulk_create(
        (StaleBow(bow_id=pk, since=now, entry="") for pk in sorted(ids)),
        update_conflicts=True,
        unique_fields=["bow"],
        update_fields=["entry"],
        batch_size=BATCH,
    )
    if ids and len(ids) <= AT_ONCE:
        transaction.on_commit(lambda: _refresh(ids), robust=True)


def _carriers(bow_ids: set[int]) -> set[int]:
    """Other bows on which a cord that was once on these is fitted now: its life follows it."""
    moved = Fitting.objects.filter(bow__in=bow_ids).exclude(removed_at=None).values("cord")
    now_on = Fitting.objects.filter(cord__in=moved, removed_at=None).exclude(bow__in=bow_ids)
    return set(now_on.values_list("bow_id", flat=True))


@receiver(shots_changed)
def mark_entry(bow_id: int, added: list[Shots], struck: list[Shots], **_kwargs: Any) -> None:
    """Mark one bow for one change of its shots; a bow that is marked already is computed anew."""
    token = "-".join(str(entry.pk) for entry in (*added, *struck))[:32]
    _, is_new = StaleBow.objects.get_or_create(bow_id=bow_id, defaults={"since": datetime.now(UTC), "entry": token})
    if not is_new or _carriers({bow_id}):
        mark_bows({bow_id})
        return
    transaction.on_commit(lambda: _add_entry(bow_id, token, added, struck), robust=True)


@receiver(places_touched)
def mark_places(place_ids: set[int], since: datetime, **_kwargs: Any) -> None:
    """New readings concern every bow that was at the place since then, or in the gap that the first of them ends."""
    earliest = since - GAP if since - datetime.min.replace(tzinfo=UTC) > GAP else since
    stayed = Stay.objects.filter(Q(end=None) | Q(end__gte=earliest), place__in=place_ids)
    mark_bows(bow_ids=set(stayed.values_list("bow_id", flat=True)))


def _refresh(bow_ids: set[int]) -> None:
    if connection.in_atomic_block:
        return
    still = set(StaleBow.objects.filter(bow__in=bow_ids).values_list("bow_id", flat=True))
    if still:
        decide.refresh(still, datetime.now(UTC))


def _add_entry(bow_id: int, token: str, added: list[Shots], struck: list[Shots]) -> None:
    if not connection.in_atomic_block:
        decide.add_entry(bow_id, token, added, struck, datetime.now(UTC))
