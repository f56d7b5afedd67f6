"""The id of the request that a line was logged in; knows no models, since logging is set up before they are."""

import logging
from contextvars import ContextVar

from celery import current_task

current_id: ContextVar[str] = ContextVar("request_id", default="")


class WithIds(logging.Filter):
    """Puts the id of the request, and of the task, on every line."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Always lets the line through."""
        record.request_id = current_id.get()
        record.task_id = (current_task.request.id or "") if current_task else ""
        return True
