"""The manager's outlook: the weeks ahead, moving a job, publishing, planning anew."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from fleet.refusal import Refused
from fleet.vocabulary import Role
from service import decide, schedule
from service.models import Plan
from service.pages.access import Here, page
from service.plan.problem import LONGEST_HORIZON_DAYS, SHORTEST_HORIZON_DAYS, ProblemError
from service.planning.drafts import last_day_of
from service.planning.figures import NO_PEOPLE, NO_PRESS, NOBODY_THERE
from service.planning.kept_outlook import LEFT_SHOWN, figures_for
from service.planning.moving import JobMove, Standing, job_of, move_cost, move_job, standing
from service.planning.outlook import outlook_of
from service.planning.publishing import publish
from service.planning.standing_draft import shown_draft
from service.said import worded
from service.tasks import patch_draft

OPEN_WEEKS = 4
PUBLISHED_AT_ONCE_DAYS = 7
# The parts of a plan's cost, as `service.plan.objective` names them, in the reader's language.
COST_NAMES = {
    "life thrown away by doing it early": _lazy("life thrown away by doing it early"),
    "risk and lost hire by doing it late": _lazy("risk and lost hire by doing it late"),
    "bookings broken": _lazy("bookings broken"),
    "labour that sharing or cancelling saves": _lazy("labour that sharing or cancelling saves"),
    "waiting for the settle-in re-check": _lazy("waiting for the settle-in re-check"),
    "left out of the plan": _lazy("left out of the plan"),
}


STOPPED_BY = {
    NO_PEOPLE: _lazy("Nobody has bench hours at this site: no job can have a day. Enter somebody's bench hours."),
    NOBODY_THERE: _lazy("Nobody is at the bench on any of these days. Look at absences, closed days and bench hours."),
    NO_PRESS: _lazy("The site has no press: work that needs one cannot be put on a day. Enter the press."),
}


@page(Role.MANAGER)
def outlook(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The draft week by week, with what it costs and how good it is known to be."""
    now = datetime.now(UTC)
    shown = shown_draft(
        here.site, schedule.DEFAULT_DAYS, now, lambda site: patch_draft.apply_async((site,), retry=False)
    )
    draft = shown.draft
    whole = request.GET.get("left") == "all"
    figures = figures_for(draft, now, whole=whole)
    seen = outlook_of(draft, figures, _week_asked(request))
    last = last_day_of(draft)
    content = {
        "shown": shown,
        "draft": draft,
        "report": draft.report,
        "gap_percent": _percent(draft.report.get("gap")),
        "outlook": seen,
        "cards": seen.jobs,
        "unplaced": seen.unplaced,
        "later": seen.later,
        "pointless": draft.report["pointless"][: None if whole else LEFT_SHOWN],
        "asked_for_week": _week_asked(request),
        "moved": [_moved(one) for one in draft.report.get("moved", [])],
        "costs": [(COST_NAMES.get(name, name), amount) for name, amount in draft.report["costs"].items()],
        "weeks": [(week, number < OPEN_WEEKS) for number, week in enumerate(seen.weeks)],
        "today": schedule.today_at(here.site, now),
        "publish_until": min(last, draft.first_day + timedelta(days=PUBLISHED_AT_ONCE_DAYS - 1)),
        "last_day": last,
        "shortest": SHORTEST_HORIZON_DAYS,
        "longest": LONGEST_HORIZON_DAYS,
        "told": Plan.objects.filter(site=here.site).exclude(published_at=None).order_by("-published_at").first(),
        "reasons": [STOPPED_BY[one] for one in seen.stopped_by],
    }
    return render(request, "desk/outlook.html", content)


def _week_asked(request: HttpRequest) -> date | None:
    """A day of the week whose jobs were asked for; what is none is no week."""
    try:
        return date.fromisoformat(request.GET.get("week", ""))
    except ValueError:
        return None


def _moved(one: dict[str, Any]) -> dict[str, Any]:
    """A move as kept in the report, its days as days."""
    days = {name: one[name] and date.fromisoformat(one[name]) for name in ("published_day", "day")}
    return {**one, **days}


def _percent(gap: float | None) -> float | None:
    return None if gap is None else 100.0 * gap


@require_POST
@page(Role.MANAGER)
def plan_anew(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Solve the plan again over so many days, with jobs put by hand kept or let go."""
    now = datetime.now(UTC)
    given = request.POST.get("days", "").strip()
    days = int(given) if given.isdecimal() and len(given) <= len(str(LONGEST_HORIZON_DAYS)) else 0
    if not SHORTEST_HORIZON_DAYS <= days <= LONGEST_HORIZON_DAYS:
        words = {"given": given[:10], "least": SHORTEST_HORIZON_DAYS, "most": LONGEST_HORIZON_DAYS}
        text = _("“%(given)s” is not a number of days from %(least)d to %(most)d: give one.")
        messages.error(request, text % words, extra_tags="stop")
        return redirect("outlook")
    decide.refresh_stale(now)
    let_go = request.POST.get("let_go") == "on"
    try:
        schedule.draft(here.site, schedule.today_at(here.site, now), days, now, keep_by_hand=not let_go)
        messages.success(request, _("Planned anew."), extra_tags="good")
    except ProblemError as problem:
        messages.error(request, str(problem), extra_tags="stop")
    return redirect("outlook")


@require_POST
@page(Role.MANAGER)
def publish_plan(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Tell the bench its days up to the one given."""
    now = datetime.now(UTC)
    try:
        told = publish(here.site, _day(request.POST.get("until", "")), by=here.person, now=now)
        count = told.jobs.count()
        messages.success(
            request,
            ngettext("%(count)d job is published up to %(day)s.", "%(count)d jobs are published up to %(day)s.", count)
            % {"count": count, "day": date_format(last_day_of(told), "DATE_FORMAT")},
            extra_tags="good",
        )
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
    return redirect("outlook")


def _called(here: Here, username: str) -> str:
    """A technician's own name."""
    return next((str(person) for person in schedule.bench_people(here.site) if person.username == username), username)


@page(Role.MANAGER)
def move(request: HttpRequest, here: Here) -> HttpResponseBase:
    """What moving a job would cost; POST moves it."""
    data = request.POST if request.method == "POST" else request.GET
    now = datetime.now(UTC)
    if not (data.get("bow") and data.get("from")):
        messages.error(request, _("Choose the job to move here, on its card."), extra_tags="stop")
        return redirect("outlook")
    tag, by_whom, technician = data.get("bow", ""), data.get("by", ""), data.get("technician") or None
    try:
        old = _day(data.get("from", ""))
        day = _day(data.get("day", "") or old.isoformat())
        if request.method == "POST":
            moved = move_job(here.site, tag, (old, by_whom), (day, technician), by=here.person, now=now)
            text = _("%(bow)s is on %(day)s with %(technician)s now: %(change)s.")
            told = {
                "bow": tag,
                "day": date_format(moved.day, "DATE_FORMAT"),
                "technician": _called(here, moved.technician),
            }
            messages.success(request, text % {**told, "change": worded(moved.reason)}, extra_tags="good")
            return redirect(f"{reverse('outlook')}#day-{moved.day}")
        return _priced(request, here, standing(here.site, 1, now), (tag, old, by_whom), (day, technician))
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
        return redirect("outlook")


def _priced(
    request: HttpRequest,
    here: Here,
    there: Standing,
    job: tuple[str, date, str],
    new: tuple[date, str | None],
) -> HttpResponseBase:
    """The move's page: the job, where it would go, and the price or the limit."""
    found = job_of(there.draft, *job)
    asked = new[0] != found.day or (new[1] or found.technician.username) != found.technician.username
    priced: JobMove | None = move_cost(there, found, *new) if asked else None
    people = schedule.bench_people(here.site)
    content = {
        "job": found,
        "day": new[0],
        "technician": new[1] or "",
        "move": priced,
        "people": people,
        "mover": next((one for one in people if priced and one.username == priced.technician), ""),
        "first_day": there.draft.first_day,
        "last_day": last_day_of(there.draft),
        "currency": here.site.currency,
    }
    return render(request, "desk/move.html", content)


def _day(given: str) -> date:
    try:
        return date.fromisoformat(given)
    except ValueError as problem:
        raise Refused(_("“%(given)s” is not a day: write it as YYYY-MM-DD.") % {"given": given[:40]}) from problem
