"""The pages that say no: what went wrong, why, and the way on."""

import sys

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from service.database_away import MAY_BE_AWAY, is_away

COME_BACK_IN_S = 30


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """400: the request itself was unreadable; 503: its session was not kept because the database is away."""
    if is_away(_behind(exception)):
        return _plain(away=True)
    why = _("The browser sent something that could not be read. Go back, reload the page and send it again.")
    return _page(request, 400, _("This could not be read"), why)


def not_open(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """403: not for this person, with the reason."""
    return _page(request, 403, _("This page is not open to you"), _reason(exception))


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """404: no such page, bow or order at this person's sites."""
    why = _reason(exception) or _("Check the address, or look the bow up by its tag.")
    return _page(request, 404, _("There is nothing here"), why)


def _behind(exception: Exception | None) -> BaseException | None:
    """What the database said before Django took a session that it could not save for one that is gone."""
    behind: BaseException | None = exception
    while behind is not None and not isinstance(behind, MAY_BE_AWAY):
        behind = behind.__cause__ or behind.__context__
    return behind


def broken(request: HttpRequest) -> HttpResponse:
    """500: a fault of the book; 503: its database is away. A page that needs neither database nor session."""
    # Django calls this while it handles the exception, and hands on the request alone.
    return _plain(away=is_away(sys.exc_info()[1]))


def _plain(*, away: bool) -> HttpResponse:
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
