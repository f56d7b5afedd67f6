"""The page that tells how to measure."""

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet.vocabulary import Role
from service.how_to_measure import ARMS, MEASUREMENTS
from service.pages.access import Here, page


@page(Role.COUNTER)
def how_to_measure(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Each reference measurement and arm with its drawing."""
    return render(request, "measure/page.html", {"measurements": MEASUREMENTS, "arms": ARMS})
