"""Publishing: what the bench is told of its days. A published plan is kept, whatever is computed later."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Person, Site
from fleet.refusal import Refused
from service.instants import day_of
from service.models import Plan, PlannedJob
from service.planning.drafts import current_draft, last_day_of
from service.planning.made_from import made_from

TOLD_OF_A_JOB = ("bow_id", "day", "technician_id", "place_in_day", "minutes", "needs", "why")
KEPT_OF_THE_REPORT = ("status", "objective", "bound", "gap", "costs", "sentence", "solved")


@transaction.atomic
def publish(site: Site, until: date, *, by: Person, now: datetime) -> Plan:
    """Tell people the draft's jobs up to a day (included); from now on these days stay unless they must move.

    Refused for a day outside the draft, or when no job stands on those days.
    """
    today = day_of(now, site.time_zone)
    draft = current_draft(site, today, 1, now)
    if not draft.first_day <= until <= last_day_of(draft):
        raise Refused(
            _("%(until)s is not a day of the plan, which runs from %(first_day)s to %(draft)s: choose one.")
            % {"until": until, "first_day": draft.first_day, "draft": last_day_of(draft)}
        )
    jobs = list(draft.jobs.filter(day__lte=until))
    if not jobs:
        raise Refused(
            _("no job stands on a day up to %(until)s: there is nothing to tell; choose a later day.")
            % {"until": until}
        )
    days = (until - draft.first_day).days + 1
    _require_news(site, draft.first_day, days, jobs)
    told = Plan.objects.create(
        site=site,
        first_day=draft.first_day,
        days=days,
        made_at=draft.made_at,
        published_at=now,
        published_by=by,
        report={key: draft.report.get(key) for key in KEPT_OF_THE_REPORT},
    )
    PlannedJob.objects.bulk_create(
        PlannedJob(plan=told, **{name: getattr(job, name) for name in TOLD_OF_A_JOB}) for job in jobs
    )
    record.note_plan_published(by=by, site=site, plan=told.pk, first_day=told.first_day, last_day=until, jobs=len(jobs))
    # Telling people changes nothing in the draft: it stays as good as it was.
    draft.report.update(made_from(site, draft.first_day, draft.days))
    draft.save(update_fields=["report"])
    return told


def _require_news(site: Site, first_day: date, days: int, jobs: list[PlannedJob]) -> None:
    """Refuse to tell the same days again as they were told last: the form was sent twice."""
    former = Plan.objects.filter(site=site).exclude(published_at=None).order_by("-published_at", "-pk").first()
    if former is None or (former.first_day, former.days) != (first_day, days):
        return
    if _content(former.jobs.all()) == _content(jobs):
        raise Refused(_("These days are published already, and nothing in them has changed since."))


def _content(jobs: Iterable[PlannedJob]) -> list[tuple[Any, ...]]:
    """Who does what when. Not why: a published job says itself that it was published."""
    found = [
        (job.day, job.bow_id, job.technician_id, job.place_in_day, job.minutes, [need["id"] for need in job.needs])
        for job in jobs
    ]
    return sorted(found, key=repr)
