"""Bows: the due list, the list of bows, one bow with its cords, references and history."""

from datetime import UTC, datetime

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet.models import Bow
from fleet.vocabulary import BowState, Position, Role
from service import schedule
from service.bow_card import card_of
from service.bow_list import bows_of
from service.due_list import SOON_DAYS, counts_of, due_when, found_by, wears_in_order
from service.pages.access import Here, bow_page, page
from service.verdicts import verdicts_of

PER_PAGE = 50


@page(Role.COUNTER)
def due(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Every fitted cord of the site, the soonest replacement first."""
    asked = {name: request.GET.get(name, "").strip() for name in ("find", "cord", "when")}
    today = schedule.today_at(here.site, datetime.now(UTC))
    found = found_by(wears_in_order(here.site), asked["find"], asked["cord"])
    shown = Paginator(due_when(found, asked["when"], today), PER_PAGE).get_page(request.GET.get("page"))
    content = {
        "wears": shown,
        "counts": counts_of(found, today),
        "today": today,
        "soon_days": SOON_DAYS,
        "positions": Position.choices,
        **asked,
    }
    return render(request, "desk/due.html", content)


@page(Role.COUNTER)
def bows(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The site's bows with their state and the one answer whether each may go out."""
    find, state = request.GET.get("find", "").strip(), request.GET.get("state", "")
    shown = Paginator(bows_of(here.site, find, state), PER_PAGE).get_page(request.GET.get("page"))
    verdicts = verdicts_of(list(shown), datetime.now(UTC))
    content = {
        "bows": shown,
        "lines": [(bow, verdicts[bow.pk]) for bow in shown],
        "find": find,
        "state": state,
        "states": BowState.values,
    }
    return render(request, "desk/bows.html", content)


@bow_page(Role.COUNTER)
def bow(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """One bow: may it go out, its reference card, its cords with wear, what it needs, what happened."""
    now = datetime.now(UTC)
    content = {"bow": bow, "card": card_of(bow, now), "today": schedule.today_at(bow.site, now)}
    return render(request, "desk/bow.html", content)
