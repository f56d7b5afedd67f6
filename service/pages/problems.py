"""The pages that say no: what went wrong, why, and the way on."""

import sys

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from service.database_away import is_away

COME_BACK_IN_S = 30


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """400: the request itself was unreadable."""
    why = _("The browser sent something that could not be read. Go back, reload the page and send it again.")
    return _page(request, 400, _("This could not be read"), why)


def not_open(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """403: not for this person, with the reason."""
    return _page(request, 403, _("This page is not open to you"), _reason(exception))


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """404: no such page, bow or order at this person's sites."""
    why = _reason(exception) or _("Check the address, or look the bow up by its tag.")
    return _page(request, 404, _("There is nothing here"), why)


def broken(request: HttpRequest) -> HttpResponse:
    """500: a fault of the book; 503: its database is away. A page that needs neither database nor session."""
    # Django calls this while it handles the exception, and hands on the request alone.
    away = is_away(sys.exc_info()[1])
    response = render(None, "problem_plain.html", {"away": away}, status=503 if away else 500)
    if away:
        response["Retry-After"] = str(COME_BACK_IN_S)
    return response


def _reason(exception: Exception | None) -> str:
    """The text that was raised for people to read; what Django's resolver raises is a dictionary for developers."""
    said = exception.args[0] if exception is not None and exception.args else ""
    return said if isinstance(said, str) else ""


def _page(request: HttpRequest, status: int, title: str, why: str) -> HttpResponse:
    return render(request, "problem.html", {"title": title, "why": why}, status=status)
