"""Timing checks ahead: every bow's predicted drift, the soonest to leave its tolerance first."""

from datetime import UTC, datetime

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet.vocabulary import Role
from service import schedule
from service.pages.access import Here, page
from service.timing_due import timings_of, without_drift

PER_PAGE = 50


@page(Role.COUNTER)
def timing_due(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The bows of the site by their predicted timing check."""
    today = schedule.today_at(here.site, datetime.now(UTC))
    timings = timings_of(here.site, today)
    content = {
        "timings": Paginator(timings, PER_PAGE).get_page(request.GET.get("page")),
        "without": without_drift(here.site, timings),
        "today": today,
    }
    return render(request, "desk/timing_due.html", content)
