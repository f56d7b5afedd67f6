"""How the service does, for the owner."""

from datetime import UTC, datetime

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet.vocabulary import Role
from service.health.signs import GIGABYTE, concerns, signs
from service.pages.access import Here, page


@page(Role.OWNER)
def status(request: HttpRequest, here: Here) -> HttpResponseBase:
    """What is amiss first, then each figure."""
    found = signs(datetime.now(UTC))
    content = {
        "found": found,
        "concerns": concerns(found),
        "free_gb": found.disk.free_bytes / GIGABYTE,
        "total_gb": found.disk.total_bytes / GIGABYTE,
    }
    return render(request, "desk/status.html", content)
