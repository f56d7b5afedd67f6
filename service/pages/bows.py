"""Bows: the list of bows, one bow with its cords, references and history."""

from datetime import UTC, datetime

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet.models import Bow
from fleet.vocabulary import BowState, Role
from service import schedule
from service.bow_card import card_of
from service.bow_list import bows_of
from service.pages.access import Here, bow_page, page
from service.pages.views import views_of
from service.verdicts import verdicts_of

PER_PAGE = 50


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
        "views": views_of(request, here, "bows"),
    }
    return render(request, "desk/bows.html", content)


@bow_page(Role.COUNTER)
def bow(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """One bow: may it go out, its reference card, its cords with wear, what it needs, what happened."""
    now = datetime.now(UTC)
    content = {"bow": bow, "card": card_of(bow, now), "today": schedule.today_at(bow.site, now)}
    return render(request, "desk/bow.html", content)
