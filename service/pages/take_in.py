"""Taking a file in from a page: a preview of what would change, then the same file again to apply it."""

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet.vocabulary import Role
from service.pages.access import Here, page


@page(Role.MANAGER)
def take_in(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Choose a kind and a file."""
    return render(request, "desk/take_in.html", {})
