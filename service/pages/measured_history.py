"""A bow's measurements over time."""

from datetime import UTC, datetime

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet.models import Bow
from fleet.vocabulary import Role
from service.measured_history import HEIGHT, WIDTH, history_of
from service.pages.access import Here, bow_page


@bow_page(Role.COUNTER)
def measured_history(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """Each reference measurement as a small picture against its tolerance band, and as a table."""
    content = {"bow": bow, "history": history_of(bow, datetime.now(UTC)), "width": WIDTH, "height": HEIGHT}
    return render(request, "desk/measured_history.html", content)
