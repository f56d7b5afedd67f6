"""Keeps which jobs gave up, and forgets them after a month."""

import logging
from datetime import UTC, datetime, timedelta
from typing import Any

from celery import Task
from celery.signals import task_failure
from django.db import DatabaseError

from service.models import FailedJob

KEPT = timedelta(days=30)
LONGEST_ERROR = 400
logger = logging.getLogger(__name__)


def note_failure(
    sender: "Task[..., Any] | None" = None, task_id: str = "", exception: BaseException | None = None, **_kwargs: Any
) -> None:
    """Write down a task that gave up; the database being away must not hide why the task failed."""
    now = datetime.now(UTC)
    error = f"{type(exception).__name__}: {exception}"[:LONGEST_ERROR]
    try:
        FailedJob.objects.filter(at__lt=now - KEPT).delete()
        FailedJob.objects.create(task=(sender.name or "")[:100] if sender else "", task_id=task_id, at=now, error=error)
    except DatabaseError:
        logger.exception("a failed job could not be written down: %s", error)


task_failure.connect(note_failure)
