"""Celery tasks: each takes ids and makes one call.

Begun by the clock (CELERY_BEAT_SCHEDULE). What may be tried again is, with growing pauses; every task may run twice
without doing anything twice, since a killed worker's task comes back.
"""

from datetime import UTC, date, datetime

from celery import shared_task

from service.night import digests, run
from service.planning import standing_draft, what_ifs

TRY_AGAIN = {
    "autoretry_for": (Exception,),
    "max_retries": run.MOST_TRIES - 1,
    "retry_backoff": 30,
    "retry_backoff_max": 900,
    "retry_jitter": True,
}


@shared_task(name="bracebook.begin_nights")
def begin_nights() -> None:
    """Begin the night of each site at which it is time."""
    run.begin(datetime.now(UTC), night_of_site.delay)


@shared_task(name="bracebook.night_of_site", soft_time_limit=900, time_limit=960, **TRY_AGAIN)
def night_of_site(site_id: int, night: str) -> None:
    """Do one site's night."""
    run.run_site(site_id, date.fromisoformat(night), datetime.now(UTC))


@shared_task(name="bracebook.patch_draft", soft_time_limit=300, time_limit=330)
def patch_draft(site_id: int) -> None:
    """Bring a site's draft up to date for whoever looked at it; nobody waits for it, and the next look asks again."""
    standing_draft.bring_up_to_date(site_id, datetime.now(UTC))


@shared_task(name="bracebook.answer_what_if", soft_time_limit=600, time_limit=630)
def answer_what_if(answer_id: int) -> None:
    """Solve the plan that somebody asked about."""
    what_ifs.answer(answer_id, datetime.now(UTC))


@shared_task(name="bracebook.begin_mornings")
def begin_mornings() -> None:
    """Send each morning's mail for which it is time."""
    for wish_id, day in digests.due(datetime.now(UTC)):
        send_morning.delay(wish_id, day)


@shared_task(name="bracebook.send_morning", soft_time_limit=120, time_limit=150, **TRY_AGAIN)
def send_morning(wish_id: int, day: str) -> None:
    """Send one mail."""
    digests.send(wish_id, date.fromisoformat(day), datetime.now(UTC))
