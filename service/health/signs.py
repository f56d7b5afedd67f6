"""How the service does: database, broker, last night, stale wear, failed jobs, disk, backups; and what is amiss."""

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, cast

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.models import Max, Min
from django.utils.translation import gettext as _
from kombu.exceptions import OperationalError
from redis.exceptions import RedisError

from fleet.models import Site
from service.backup.nightly import latest_backup_at
from service.celery import app
from service.models import FailedJob, NightlyRun, StaleBow

GIGABYTE = 1024**3
# House limits, common practice, no source.
STALE_TOO_LONG = timedelta(minutes=30)
NIGHT_TOO_LONG = timedelta(hours=26)
BACKUP_TOO_OLD = timedelta(hours=26)
QUEUE_TOO_LONG = 200
DISK_TOO_FULL_BYTES = 2 * GIGABYTE
FAILED_WITHIN = timedelta(hours=24)


@dataclass(frozen=True)
class Queue:
    """Tasks of the work queue: waiting, and taken by a worker that has not finished."""

    waiting: int
    taken: int


@dataclass(frozen=True)
class Disk:
    """The disk with the data directory."""

    free_bytes: int
    total_bytes: int


@dataclass(frozen=True)
class Signs:
    """What is found now. `queue` is None while the broker does not answer; instants where there is none yet."""

    at: datetime
    queue: Queue | None
    stale_bows: int
    stale_since: datetime | None
    nights: list[NightlyRun]
    sites_without_a_night: list[str]
    failed: list[FailedJob]
    disk: Disk
    backup_at: datetime | None


def signs(now: datetime) -> Signs:
    """Look at everything once; DatabaseError if the database does not answer."""
    stale = StaleBow.objects.aggregate(first=Min("since"))
    nights = latest_nights()
    return Signs(
        at=now,
        queue=queue_now(),
        stale_bows=StaleBow.objects.count(),
        stale_since=stale["first"],
        nights=nights,
        sites_without_a_night=sorted(
            Site.objects.exclude(pk__in=[night.site_id for night in nights]).values_list("name", flat=True)
        ),
        failed=list(FailedJob.objects.filter(at__gte=now - FAILED_WITHIN)[:50]),
        disk=disk_now(),
        backup_at=latest_backup_at(),
    )


def latest_nights() -> list[NightlyRun]:
    """The latest night of each site that has had one."""
    latest = NightlyRun.objects.values("site").annotate(last=Max("night")).values_list("site", "last")
    return [NightlyRun.objects.select_related("site").get(site=site, night=night) for site, night in latest]


def database_answers() -> bool:
    """Whether the database answers a question."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            return bool(cursor.fetchone() == (1,))
    except DatabaseError:
        return False


def queue_now() -> Queue | None:
    """Tasks in the broker; None if it does not answer within two seconds."""
    try:
        with app.connection_for_read() as broker:
            broker.ensure_connection(max_retries=1, timeout=2)
            channel: Any = broker.default_channel
            client = getattr(channel, "client", None)
            if client is None:  # a broker inside this process, as tests have it
                return Queue(0, 0)
            waiting = cast(int, client.llen(app.conf.task_default_queue))
            return Queue(waiting, cast(int, client.zcard(channel.unacked_index_key)))
    except (OperationalError, RedisError, OSError):
        return None


def disk_now() -> Disk:
    """The disk with the data directory."""
    usage = shutil.disk_usage(Path(settings.DATA_DIR))
    return Disk(usage.free, usage.total)


def concerns(found: Signs) -> list[str]:
    """What the owner should look at, each with the next step; empty when all is well."""
    return [*_work_concerns(found), *_night_concerns(found), *_keeping_concerns(found)]


def _work_concerns(found: Signs) -> list[str]:
    said = []
    if found.queue is None:
        said.append(
            _("The broker does not answer: pages work, but nights, backups and large files wait. See log/broker.log.")
        )
    elif found.queue.waiting > QUEUE_TOO_LONG:
        said.append(
            _("%(count)d tasks wait in the queue: see whether the worker runs (log/worker.log).")
            % {"count": found.queue.waiting}
        )
    if found.stale_since is not None and found.at - found.stale_since > STALE_TOO_LONG:
        said.append(
            _("The wear of %(count)d bows has been waiting for its refresh: see whether worker and clock run.")
            % {"count": found.stale_bows}
        )
    if found.failed:
        said.append(_("%(count)d jobs gave up in the last day: see them below.") % {"count": len(found.failed)})
    return said


def _night_concerns(found: Signs) -> list[str]:
    said = []
    for night in found.nights:
        if night.error:
            said.append(_("The night of %(site)s went wrong: %(error)s") % {"site": night.site, "error": night.error})
        elif night.ended_at is None:
            if found.at - night.started_at > STALE_TOO_LONG:
                said.append(_("The night of %(site)s began and never ended.") % {"site": night.site})
        elif found.at - night.ended_at > NIGHT_TOO_LONG:
            said.append(
                _("%(site)s has had no night since %(night)s: see whether the clock (beat) runs.")
                % {"site": night.site, "night": night.night}
            )
    if found.sites_without_a_night:
        names = ", ".join(found.sites_without_a_night)
        said.append(
            _("No night yet at %(sites)s: it comes with the first night that the service runs.") % {"sites": names}
        )
    return said


def _keeping_concerns(found: Signs) -> list[str]:
    said = []
    if found.backup_at is None:
        said.append(_("There is no nightly backup yet: run `manage.py backup --nightly`, or wait for the first night."))
    elif found.at - found.backup_at > BACKUP_TOO_OLD:
        said.append(_("The latest backup is older than a day: see the failed jobs, and the disk."))
    if found.disk.free_bytes < DISK_TOO_FULL_BYTES:
        said.append(
            _("The disk has only %(free).1f GB left: make room, or the book stops taking entries.")
            % {"free": found.disk.free_bytes / GIGABYTE}
        )
    return said
