"""Facts changed -> wear is stale; a few bows are computed at once after the commit, many by the next refresh."""

import logging
from datetime import UTC, datetime
from typing import Any

from django.db import connection, transaction
from django.db.models import Q
from django.dispatch import receiver

from fleet.models import Stay
from fleet.signals import bows_touched, places_touched
from service.models import StaleBow

log = logging.getLogger(__name__)
AT_ONCE = 20
BATCH = 1_000


@receiver(bows_touched)
def mark_bows(bow_ids: set[int], **_kwargs: Any) -> None:
    """Mark the bows in the transaction that wrote the fact, so that a crash cannot lose the mark."""
    now = datetime.now(UTC)
    StaleBow.objects.bulk_create(
        (StaleBow(bow_id=pk, since=now) for pk in sorted(bow_ids)), ignore_conflicts=True, batch_size=BATCH
    )
    if bow_ids and len(bow_ids) <= AT_ONCE:
        transaction.on_commit(lambda: _refresh(bow_ids), robust=True)


@receiver(places_touched)
def mark_places(place_ids: set[int], since: datetime, **_kwargs: Any) -> None:
    """New readings concern every bow that was at the place since then."""
    stayed = Stay.objects.filter(Q(end=None) | Q(end__gte=since), place__in=place_ids)
    mark_bows(bow_ids=set(stayed.values_list("bow_id", flat=True)))


def _refresh(bow_ids: set[int]) -> None:
    from service.decide import refresh

    if connection.in_atomic_block:
        return
    still = set(StaleBow.objects.filter(bow__in=bow_ids).values_list("bow_id", flat=True))
    if still:
        refresh(still, datetime.now(UTC))
