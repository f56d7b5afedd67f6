"""Tasks that a killed worker had taken are put back when a worker starts, whoever started it, and each minute.

The broker alone would wait until the visibility timeout has passed, half an hour, because a task may be in good hands
that long. So the workers that live are asked what they hold; what nobody holds was lost with its worker.
"""

import json
import logging
from datetime import datetime, timedelta
from typing import Any

from celery.signals import worker_ready
from kombu.exceptions import OperationalError
from redis.exceptions import RedisError

from service.celery import app

ANSWER_WITHIN_S = 2.0
# Between the taking and the worker's own list of what it holds there is a moment: the clock's look leaves it out.
LEFT_ALONE_FOR = timedelta(seconds=20)
logger = logging.getLogger(__name__)


def on_worker_ready(**_kwargs: Any) -> None:
    """A worker that starts looks for what an earlier one left."""
    try:
        lost = give_back_lost()
    except (OperationalError, RedisError, OSError) as problem:
        logger.warning("lost tasks could not be looked for: %s", problem)
        return
    if lost:
        logger.warning("%d tasks were lost with a killed worker and are in the queue again", lost)


def give_back_lost(taken_before: datetime | None = None) -> int:
    """Put back what no living worker holds, of all that was taken or only before an instant; returns how many tasks.

    A worker that does not answer in time may hold one of them: it is then done twice, which tasks are made to bear.
    """
    with app.connection_for_write() as connection:
        connection.ensure_connection(max_retries=1, timeout=5)
        channel: Any = connection.default_channel
        if not hasattr(channel, "unacked_index_key"):
            return 0
        # Looked at before the workers are asked: what one takes in between is not in this list.
        latest = "+inf" if taken_before is None else taken_before.timestamp()
        tags = channel.client.zrangebyscore(channel.unacked_index_key, "-inf", latest)
        ids = {tag: _id_of(channel.client.hget(channel.unacked_key, tag)) for tag in tags}
        held = held_by_workers() if ids else set()
        lost = [tag for tag, task_id in ids.items() if task_id is not None and task_id not in held]
        for tag in lost:
            channel.qos.restore_by_tag(tag.decode(), channel.client)
    return len(lost)


def _id_of(taken: bytes | None) -> str | None:
    """The task's id in a message that was taken; None if it was finished meanwhile."""
    if taken is None:
        return None
    message = json.loads(taken)[0]
    return str(message.get("headers", {}).get("id", ""))


def held_by_workers() -> set[str]:
    """Ids of the tasks that living workers run or have in hand."""
    asked = app.control.inspect(timeout=ANSWER_WITHIN_S)
    answers = [asked.active() or {}, asked.reserved() or {}, asked.scheduled() or {}]
    return {
        str((task.get("request") or task)["id"]) for answer in answers for tasks in answer.values() for task in tasks
    }


worker_ready.connect(on_worker_ready)
