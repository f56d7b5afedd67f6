"""Figures for Prometheus: requests as they are counted, and the signs at the moment of asking."""

from collections.abc import Iterator
from datetime import datetime

from django.conf import settings
from django.db import DatabaseError
from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4
from prometheus_client.multiprocess import MultiProcessCollector

from service.health.signs import database_answers, signs

# Each process writes its own counts into METRICS_DIR (set before the library is imported); asking adds them up.
REQUESTS = Counter("bracebook_http_requests_total", "Requests answered.", ["method", "view", "status"])
SECONDS = Histogram(
    "bracebook_http_request_seconds", "Seconds to answer.", ["view"], buckets=(0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0)
)


class _Signs:
    """The signs as gauges, looked at when asked."""

    def __init__(self, now: datetime) -> None:
        self.now = now

    def collect(self) -> Iterator[GaugeMetricFamily]:
        """Gauges; a figure that is not known is left out, as Prometheus wants it."""
        up = database_answers()
        yield GaugeMetricFamily("bracebook_database_up", "Whether the database answers.", value=float(up))
        if up:
            try:
                yield from self._of_the_book()
            except DatabaseError:
                return

    def _of_the_book(self) -> Iterator[GaugeMetricFamily]:
        found = signs(self.now)
        yield _gauge("broker_up", "Whether the broker answers.", float(found.queue is not None))
        if found.queue is not None:
            yield _gauge("queue_tasks_waiting", "Tasks that no worker has taken yet.", found.queue.waiting)
            yield _gauge("queue_tasks_taken", "Tasks that a worker has taken and not finished.", found.queue.taken)
        yield _gauge("stale_bows", "Bows whose wear waits for its refresh.", found.stale_bows)
        if found.stale_since is not None:
            yield _gauge("stale_seconds", "How long the oldest of them has waited.", self._since(found.stale_since))
        yield _gauge("failed_jobs", "Jobs that gave up in the last day.", len(found.failed))
        yield _gauge("disk_free_bytes", "Free on the disk with the data directory.", found.disk.free_bytes)
        if found.backup_at is not None:
            yield _gauge("backup_age_seconds", "Age of the latest nightly backup.", self._since(found.backup_at))
        night = GaugeMetricFamily("bracebook_night_age_seconds", "Since the latest night ended.", labels=["site"])
        for one in found.nights:
            if one.ended_at is not None and not one.error:
                night.add_metric([one.site.code], self._since(one.ended_at))
        yield night

    def _since(self, instant: datetime) -> float:
        return (self.now - instant).total_seconds()


def _gauge(name: str, about: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"bracebook_{name}", about, value=value)


def exposition(now: datetime) -> tuple[bytes, str]:
    """Everything in the text format, and its content type."""
    registry = CollectorRegistry()
    MultiProcessCollector(registry, path=str(settings.METRICS_DIR))
    registry.register(_Signs(now))
    return generate_latest(registry), CONTENT_TYPE_PLAIN_0_0_4
