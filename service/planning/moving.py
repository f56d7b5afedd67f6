"""A job put on another day by hand: what that costs, first; then saved, with who did it."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Person, Site
from fleet.refusal import Refused
from service.instants import day_of
from service.models import Plan, PlannedJob
from service.plan.move import cost_of_move
from service.plan.outcome import Plan as PurePlan
from service.plan.units import money
from service.planning.drafts import current_draft, priced, save
from service.planning.problem import SitePlan, site_plan
from service.planning.pure_plans import pure_plan
from service.said import Figure, figure, joined, say, worded


@dataclass(frozen=True)
class JobMove:
    """`extra`: the site's currency, below 0 when it saves; None when a limit forbids the move (`reason` says which).

    `along`: needs of the bow that get another day with it. `plan`: the plan after the move.
    """

    needs: tuple[str, ...]
    day: date
    technician: str
    extra: float | None
    along: tuple[str, ...]
    reason: str
    plan: PurePlan | None

    @property
    def saved(self) -> float:
        """What the move saves, where it does."""
        return -(self.extra or 0.0)


@dataclass(frozen=True)
class Standing:
    """The site's current draft, and the problem that it answers."""

    draft: Plan
    there: SitePlan


def standing(site: Site, days: int, now: datetime, *, solve_if_small: bool = False) -> Standing:
    """The current draft from today on with its problem gathered anew, to price changes against."""
    today = day_of(now, site.time_zone)
    draft = current_draft(site, today, days, now, solve_if_small=solve_if_small)
    return Standing(draft, site_plan(site, draft.first_day, draft.days, now))


def job_of(draft: Plan, tag: str, day: date, technician: str) -> PlannedJob:
    """A job of the draft by what people see of it. Refused when the plan has changed meanwhile."""
    job = draft.jobs.filter(bow__tag=tag, day=day, technician__username=technician).select_related("bow").first()
    if job is None:
        raise Refused(
            _("%(tag)s is no longer on %(day)s with %(technician)s: the plan was made anew; look at it again.")
            % {"tag": tag, "day": day, "technician": technician}
        )
    return job


def move_cost(now: Standing, job: PlannedJob, day: date, technician: str | None) -> JobMove:
    """What putting the whole job on a day costs, with a technician or whoever is cheapest; every limit is checked."""
    problem, plan = now.there.problem, pure_plan(now.draft)
    names = tuple(entry["id"] for entry in job.needs)
    if technician is not None and technician not in {person.id for person in problem.technicians}:
        raise Refused(
            _("%(technician)s is not at the bench of %(site)s: choose somebody who is.")
            % {"technician": technician, "site": now.there.site}
        )
    extra, along, who = 0.0, set[str](), technician
    for name in names:
        one = cost_of_move(problem, plan, name, day, who)
        if one.plan is None or one.extra is None:
            why = say("%(name)s: %(why)s", name=now.there.needs[name].called, why=one.sentence)
            return JobMove(names, day, who or "", None, (), why, None)
        plan, extra = one.plan, extra + one.extra
        along |= set(one.along)
        placed = plan.placement_of(name)
        who = placed.technician if placed is not None else who
    others = tuple(sorted(along - set(names)))
    return JobMove(names, day, who or "", extra, others, _in_words(now.there, extra, others), plan)


def _in_words(there: SitePlan, extra: float, along: tuple[str, ...]) -> str:
    amount = money(there.problem, round(abs(extra) * 100))
    more = say("costs %(amount)s more", amount=amount) if extra > 0 else say("saves %(amount)s", amount=amount)
    change = say("costs nothing") if round(extra * 100) == 0 else more
    if not along:
        return change
    called = joined(", ", [there.needs[name].called for name in along])
    return say("%(change)s; %(along)s changes with it", change=change, along=called)


@transaction.atomic
def move_job(
    site: Site, tag: str, old: tuple[date, str], new: tuple[date, str | None], *, by: Person, now: datetime
) -> JobMove:
    """Put a job on another day (and technician) and keep it there through every re-plan, unless it must move.

    Refused with the limit that forbids it.
    """
    there = standing(site, 1, now)
    job = job_of(there.draft, tag, *old)
    move = move_cost(there, job, *new)
    if move.plan is None or move.extra is None:
        raise Refused(worded(move.reason))
    hand = {**there.there.hand}
    hand.update({name: [move.day.isoformat(), move.technician, str(by.pk)] for name in move.needs})
    record.note_job_moved(
        by=by,
        bow=job.bow,
        needs=list(move.needs),
        from_day=old[0],
        to_day=move.day,
        technician=move.technician,
        extra_cost=move.extra,
    )
    save(there.there, move.plan, now, _report(there, move.plan), hand)
    return move


def _report(now: Standing, plan: PurePlan) -> dict[str, Any]:
    """The cost anew; the bound stays true, for a job held fast can only make the best plan dearer."""
    fresh, bound = priced(now.there, plan), now.draft.report.get("bound")
    if bound is None:
        return fresh
    cost = fresh["objective"]
    gap = 0.0 if cost <= 0 else max(0.0, (cost - bound) / cost)
    kept = {key: value for key, value in now.draft.report.items() if key in ("due_date_first", "precedence_proven")}
    sentence = say(
        "Changed by hand, gap %(gap)s %%: it costs %(cost)s.",
        gap=figure(100 * gap, ".1f"),
        cost=Figure(f"{cost:,.2f} {now.there.problem.currency}"),
    )
    return {**kept, **fresh, "solved": True, "status": "by hand", "bound": bound, "gap": gap, "sentence": sentence}
