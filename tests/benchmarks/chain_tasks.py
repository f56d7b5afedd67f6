"""The steps of the chain's nights as tasks of their own, on the benchmark's own day, so that each is timed by itself.

Each is the very call that a night makes (`service/night/run.py`); `night_of_site` is a site's night whole.
"""

from datetime import date, datetime

from celery import shared_task

from fleet.models import Site
from service import schedule
from service.learned import learn_all
from service.night import run


@shared_task(name="benchmark.learn")
def learn(now: str) -> None:
    """Learn the lives of cord specs from the whole book, as the first night of a day does."""
    learn_all(datetime.fromisoformat(now))


@shared_task(name="benchmark.compute_site")
def compute_site(site_id: int, now: str) -> None:
    """A site's use, wear and needs anew."""
    run.compute(Site.objects.get(pk=site_id), datetime.fromisoformat(now))


@shared_task(name="benchmark.draft_site")
def draft_site(site_id: int, now: str) -> None:
    """Solve and save one site's plan."""
    site, moment = Site.objects.get(pk=site_id), datetime.fromisoformat(now)
    schedule.draft(site, schedule.today_at(site, moment), schedule.DEFAULT_DAYS, moment)


@shared_task(name="benchmark.night_of_site")
def night_of_site(site_id: int, night: str, now: str) -> None:
    """One site's night: names erased, wear and needs, plan."""
    run.run_site(site_id, date.fromisoformat(night), datetime.fromisoformat(now))
