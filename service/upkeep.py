"""What the clock sends through the work queue to keep the book fresh and safe. Doing any of it twice changes nothing.

`tasks.py` has the work that people and nights ask for; this is what must go on even if nobody asks.
"""

from datetime import UTC, datetime

from celery import shared_task
from django.contrib.sessions.backends.db import SessionStore
from django.db import OperationalError

from service import decide, lost_tasks
from service.backup.nightly import nightly_backup
from service.guests import proposals
from service.lives_to_learn import learn_marked

# A locked or restarting database and a full disk pass; each try waits twice as long as the one before, with jitter.
RETRIES = {"autoretry_for": (OperationalError, OSError), "retry_backoff": 5, "retry_jitter": True, "max_retries": 6}


@shared_task(name="bracebook.refresh_stale", soft_time_limit=900, time_limit=960, **RETRIES)
def refresh_stale() -> int:
    """Compute the bows whose facts changed while nobody could: a file over many bows, or a refresh that was cut off.

    Lives that a changed coefficient has marked are learned anew before.
    """
    now = datetime.now(UTC)
    # First, for the lives decide where each cord is replaced.
    learn_marked(now)
    return decide.refresh_stale(now)


@shared_task(name="bracebook.propose_bows", soft_time_limit=900, time_limit=960, **RETRIES)
def propose_bows() -> int:
    """Work out anew who gets which bow where bookings came in or bows changed."""
    return proposals.keep_all_up(datetime.now(UTC))


@shared_task(name="bracebook.back_up", soft_time_limit=1400, time_limit=1500, **RETRIES)
def back_up() -> str:
    """Make tonight's backup and drop those that are no longer kept."""
    return nightly_backup(datetime.now(UTC)).name


@shared_task(name="bracebook.forget_sessions", soft_time_limit=300, time_limit=330, **RETRIES)
def forget_sessions() -> None:
    """Drop the sessions that are over: each says who was signed in, and nobody needs it any more."""
    SessionStore.clear_expired()


# Acknowledged before it is done: it would find itself among the tasks that are not.
@shared_task(name="bracebook.give_back_lost", acks_late=False, soft_time_limit=45, time_limit=50)
def give_back_lost() -> int:
    """Put back the tasks that a worker took and was killed with, where no worker starts in its place."""
    return lost_tasks.give_back_lost(taken_before=datetime.now(UTC) - lost_tasks.LEFT_ALONE_FOR)
