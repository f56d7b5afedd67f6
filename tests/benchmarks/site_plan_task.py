"""A task for the benchmark's workers: the draft of one site, as the night makes it, on the benchmark's own day."""

from datetime import datetime

from celery import shared_task

from fleet.models import Site
from service import schedule


@shared_task(name="benchmark.draft_site")
def draft_site(site_id: int, now: str) -> None:
    """Solve and save one site's plan."""
    site, moment = Site.objects.get(pk=site_id), datetime.fromisoformat(now)
    schedule.draft(site, schedule.today_at(site, moment), schedule.DEFAULT_DAYS, moment)
