"""Timing checks ahead: every bow's predicted drift, the soonest to leave its tolerance first."""

from datetime import UTC, datetime

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet.vocabulary import Role
from service import schedule
from service.counted import counted_page
from service.pages.access import Here, page
from service.timing_due import bows_in_order, counts_of, timings_of, without_drift

PER_PAGE = 25
NAMED = 200


@page(Role.COUNTER)
def timing_due(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The bows of the site by their predicted timing check."""
    today = schedule.today_at(here.site, datetime.now(UTC))
    predicted, others = counts_of(here.site)
    shown = counted_page(bows_in_order(here.site), PER_PAGE, predicted, request.GET.get("page"))
    shown.object_list = timings_of(list(shown), today)
    content = {
        "timings": shown,
        "without": list(without_drift(here.site)[:NAMED]) if others else [],
        "unnamed": max(0, others - NAMED),
        "today": today,
    }
    return render(request, "desk/timing_due.html", content)
