"""A coefficient changed: the lives learned under it are learned anew, by a task, and their bows computed with them.

The mark is written in the transaction that changes the coefficient, so that a crash cannot lose it; the minute's
refresh learns what is marked before it computes bows. Until then the pages say that it is being learned.
"""

from contextlib import suppress
from datetime import datetime

from django.db import transaction
from kombu.exceptions import OperationalError

from fleet.models import CordSpec, Fitting
from fleet.signals import bows_touched
from service.learned import learn_some
from service.saved_figures import LifeToLearn

LEARNED_AT_ONCE_CORDS = 200
"""Up to so many cords, removed ones too, are learned from while somebody waits: a few tenths of a second."""


def have_learned(specs: list[CordSpec], now: datetime) -> None:
    """What was learned of these cord specs no longer holds: learn it anew, at once if that is quick, else by a task."""
    LifeToLearn.objects.bulk_create(
        (LifeToLearn(cord_spec=spec, since=now) for spec in specs),
        update_conflicts=True,
        unique_fields=["cord_spec"],
        update_fields=["since"],
    )
    if quickly_learned(specs):
        _learn([spec.pk for spec in specs], now)
    else:
        transaction.on_commit(_send, robust=True)


def quickly_learned(specs: list[CordSpec]) -> bool:
    """Whether few enough of their cords were ever fitted."""
    return Fitting.objects.filter(cord__spec__in=specs).count() <= LEARNED_AT_ONCE_CORDS


def waiting() -> int:
    """How many cord specs wait to be learned anew."""
    return LifeToLearn.objects.count()


def learn_marked(now: datetime) -> int:
    """Learn every marked cord spec anew and mark the bows that carry it; returns how many cord specs."""
    specs = list(LifeToLearn.objects.values_list("cord_spec", flat=True))
    if specs:
        _learn(specs, now)
    return len(specs)


def _learn(specs: list[int], now: datetime) -> None:
    learn_some(specs, now)
    carrying = Fitting.objects.filter(cord__spec__in=specs, removed_at=None)
    bows_touched.send(None, bow_ids=set(carrying.values_list("bow_id", flat=True)))


def _send() -> None:
    """Have the queue do it at once; without a broker the next refresh does it."""
    from service.upkeep import refresh_stale

    with suppress(OperationalError):
        refresh_stale.apply_async(retry=False)
