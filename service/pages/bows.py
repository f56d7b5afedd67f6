"""Bows: the due list, the list of bows, one bow with its cords, references and history."""

from datetime import UTC, datetime

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet import lookups
from fleet.models import Bow
from fleet.vocabulary import BowState, Role
from service import schedule
from service.due_list import wears_in_order
from service.models import CordWear
from service.pages.access import Here, bow_of, page
from service.pages.verdicts import verdict_of, verdicts_of

PER_PAGE = 50
HISTORY_ROWS = 30


@page(Role.COUNTER)
def due(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Every fitted cord of the site, the soonest replacement first."""
    wears = wears_in_order(here.site)
    wanted = request.GET.get("find", "").strip()
    if wanted:
        wears = wears.filter(fitting__bow__tag__icontains=wanted)
    shown = Paginator(wears, PER_PAGE).get_page(request.GET.get("page"))
    today = schedule.today_at(here.site, datetime.now(UTC))
    return render(request, "desk/due.html", {"wears": shown, "today": today, "find": wanted})


@page(Role.COUNTER)
def bows(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The site's bows with their state and the one answer whether each may go out."""
    rows = lookups.with_state(Bow.objects.filter(site=here.site).select_related("spec_sheet", "site"))
    wanted, state = request.GET.get("find", "").strip(), request.GET.get("state", "")
    if wanted:
        rows = rows.filter(tag__icontains=wanted) | rows.filter(serial__icontains=wanted)
    rows = rows.filter(state=state) if state in BowState.values else rows.exclude(state=BowState.RETIRED)
    shown = Paginator(rows.order_by("tag"), PER_PAGE).get_page(request.GET.get("page"))
    verdicts = verdicts_of(list(shown), datetime.now(UTC))
    lines = [(bow, verdicts[bow.pk]) for bow in shown]
    content = {"bows": shown, "lines": lines, "find": wanted, "state": state, "states": BowState.choices}
    return render(request, "desk/bows.html", content)


@page(Role.COUNTER)
def bow(request: HttpRequest, here: Here, tag: str) -> HttpResponseBase:
    """One bow: may it go out, its reference card, its cords with wear, what it needs, what happened."""
    one, now = bow_of(here, tag), datetime.now(UTC)
    wears = (
        CordWear.objects.filter(fitting__bow=one).select_related("fitting__cord__spec").order_by("fitting__position")
    )
    content = {
        "bow": one,
        "verdict": verdict_of(one, now),
        "state": BowState(lookups.state_of(one)),
        "set_up": lookups.set_up_at(one, now),
        "wears": wears.order_by("fitting__position"),
        "unworn": lookups.fitted(one).filter(wear=None),
        "reference_set": lookups.current_reference_set(one),
        "needs": one.needs.order_by("due_on"),
        "order": one.orders.filter(status__in=["issued", "in_work", "signed"]).first(),
        "removed": one.fittings.exclude(removed_at=None).select_related("cord__spec").order_by("-removed_at"),
        "results": one.results.select_related("performed_by", "released_by").order_by("-signed_at")[:HISTORY_ROWS],
        "history": one.audit.select_related("person")[:HISTORY_ROWS],
        "shots": one.shots.filter(superseded_at=None).order_by("-start")[:HISTORY_ROWS],
    }
    return render(request, "desk/bow.html", content)
