"""Verbs on what people were told of the bench's days. The plan itself is computed; that it was told is a fact."""

from datetime import date

from fleet.models import Bow, Person, Site
from fleet.record.kernel import audit, verb


@verb
def note_plan_published(*, by: Person, site: Site, plan: int, first_day: date, last_day: date, jobs: int) -> None:
    """Note that a plan's jobs of these days were published, and by whom."""
    audit(by, "note_plan_published", site, plan=plan, first_day=first_day, last_day=last_day, jobs=jobs)


@verb
def note_job_moved(
    *, by: Person, bow: Bow, needs: list[str], from_day: date, to_day: date, technician: str, extra_cost: float
) -> None:
    """Note that a job was put on another day by hand, with what the move costs (the site's currency).

    `technician` is a user name; the audit trail keeps the person's number.
    """
    audit(
        by,
        "note_job_moved",
        bow,
        bow=bow,
        needs=needs,
        from_day=from_day,
        to_day=to_day,
        technician=Person.objects.filter(username=technician).first(),
        extra_cost=round(extra_cost, 2),
    )
