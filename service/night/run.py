"""One site's night: erase names whose time is over (guests', and of people who left), compute wear and needs anew,
draft the plan.

Sites are independent: each has its record, and what fails at one is written there and tried again, without the others.
"""

import logging
from collections.abc import Callable
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import F
from django.utils import timezone

from fleet import record
from fleet.models import Bow, Site
from fleet.record.erasing import names_due
from fleet.record.sites import night_watch
from service import decide, schedule
from service.learned import learn_all
from service.models import NightlyRun, SpecLife
from service.planning.told import draft_of
from service.planning.what_ifs import forget_answers
from service.saved_years import forget_years
from service.use_ahead import learn_site_use

logger = logging.getLogger(__name__)
BEGINS_AT_HOUR = 2
MOST_TRIES = 4
# A run that said nothing for so long was killed: it is begun again.
GIVEN_UP_AFTER = timedelta(hours=1)
# Sites begin their nights at different hours; what the whole house teaches is learned once for all of them.
LEARNED_LATELY = timedelta(hours=12)
LONGEST_ERROR = 1_000
Send = Callable[[int, str], object]


def begin(now: datetime, send: Send) -> int:
    """Begin the night of each site at which it is time: learn from the whole house once, then send each site's run.

    `send` takes a site's id and its night as ISO text. Returns how many were sent.
    """
    due = [(site, night) for site, night in _nights(now) if _is_due(site, night, now)]
    if not due:
        return 0
    noted = "" if _is_learned(now) else _learn(now)
    for site, night in due:
        run, _ = NightlyRun.objects.get_or_create(site=site, night=night, defaults={"started_at": now})
        run.started_at, run.ended_at, run.error = now, None, noted
        run.save(update_fields=["started_at", "ended_at", "error"])
        send(site.pk, night.isoformat())
    return len(due)


def _nights(now: datetime) -> list[tuple[Site, date]]:
    """Sites whose own clock has passed the hour, with their own date."""
    local = [(site, now.astimezone(ZoneInfo(site.time_zone))) for site in Site.objects.order_by("pk")]
    return [(site, at.date()) for site, at in local if at.hour >= BEGINS_AT_HOUR]


def _is_due(site: Site, night: date, now: datetime) -> bool:
    run = NightlyRun.objects.filter(site=site, night=night).first()
    if run is None:
        return True
    went_well = run.ended_at is not None and not run.error
    recently = max(run.started_at, run.ended_at or run.started_at) > now - GIVEN_UP_AFTER
    return not went_well and not recently and run.tries < MOST_TRIES


def _is_learned(now: datetime) -> bool:
    return SpecLife.objects.filter(learned_at__gt=now - LEARNED_LATELY, learned_at__lte=now).exists()


def _learn(now: datetime) -> str:
    """Learn the lives of cord specs from all history; on a failure the last learned ones stand, and it is said."""
    try:
        learn_all(now)
    except Exception as problem:
        logger.exception("learning cord lives failed")
        return _told("learning cord lives (the last learned ones stand)", problem)
    return ""


def run_site(site_id: int, night: date, now: datetime) -> bool:
    """Do one site's night, unless it went well already; returns whether it was done now. Raises what went wrong."""
    site = Site.objects.get(pk=site_id)
    run, _ = NightlyRun.objects.get_or_create(site=site, night=night, defaults={"started_at": now})
    if run.ended_at is not None and run.tries and not run.error:
        return False
    # Two workers with the same message: one of them counts this try, the other finds it counted.
    if not NightlyRun.objects.filter(pk=run.pk, tries=run.tries).update(tries=F("tries") + 1, ended_at=None):
        return False
    noted, step = (run.error if run.tries == 0 else ""), ""
    try:
        step = "erasing names"
        run.names_erased += record.erase_guest_names(by=night_watch(), today=night, site=site)
        run.names_erased += _erase_people(now)
        step = "computing wear and needs"
        compute(site, now)
        step = "drafting the plan"
        schedule.draft(site, night, _days_ahead(site), now)
    except Exception as problem:
        logger.exception("night of %s: %s failed", site.code, step)
        _end(run, _told(step, problem))
        raise
    _end(run, noted)
    return True


def _erase_people(now: datetime) -> int:
    """Erase the names of people who left whose day has come; the first site whose night it is does it for all."""
    due = names_due(now.date())
    for person in due:
        record.erase_person(by=night_watch(), person=person, now=now)
    return len(due)


def _days_ahead(site: Site) -> int:
    """As many days as the site's draft looks ahead: whoever chose them wants the same tomorrow."""
    former = draft_of(site)
    return schedule.DEFAULT_DAYS if former is None else former.days


def compute(site: Site, now: datetime) -> None:
    """As a full rebuild does, for the bows of one site."""
    learn_site_use(site, now)
    forget_years(site)
    forget_answers(site)
    decide.refresh_in_turns(Bow.objects.filter(site=site).values_list("pk", flat=True), now)


def _end(run: NightlyRun, error: str) -> None:
    run.ended_at, run.error = timezone.now(), error
    run.save(update_fields=["ended_at", "error", "names_erased"])


def _told(step: str, problem: Exception) -> str:
    return f"{step}: {type(problem).__name__}: {problem}"[:LONGEST_ERROR]


def last_run(site: Site) -> NightlyRun | None:
    """The site's last night."""
    return NightlyRun.objects.filter(site=site).order_by("-night").first()
