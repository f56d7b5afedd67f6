"""Views of a list that a person keeps under a name of their own."""

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet import record
from fleet.models import SavedView
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service.pages.access import Here, page

# The lists that can be kept narrowed.
PAGES = ("due", "bows", "parts", "costs")
# What is no part of a view: where one was in the list, and which site one looked at.
PASSING = ("page", "site")


@dataclass(frozen=True)
class ShownView:
    """A view as the list shows it; `current` where the list stands narrowed just so."""

    pk: int
    name: str
    query: str
    current: bool


def query_of(data: QueryDict) -> str:
    """The part of an address that narrows a list, in one spelling."""
    kept = sorted((name, value) for name, values in data.lists() for value in values if value and name not in PASSING)
    query = QueryDict(mutable=True)
    for name, value in kept:
        query.appendlist(name, value)
    return query.urlencode()


def views_of(request: HttpRequest, here: Here, page: str) -> list[ShownView]:
    """The person's views of a list."""
    now = query_of(request.GET)
    views = SavedView.objects.filter(person=here.person, page=page)
    return [ShownView(view.pk, view.name, view.query, view.query == now) for view in views]


@require_POST
@page(Role.COUNTER)
def save(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Keep a list as it is narrowed now."""
    target = request.POST.get("list", "")
    if target not in PAGES:
        told = _("There is no list '%(name)s' to keep a view of: open the list and keep it from there.")
        messages.error(request, told % {"name": target[:20]}, extra_tags="stop")
        return redirect("home")
    query = query_of(QueryDict(request.POST.get("query", "")))
    try:
        view = record.save_view(by=here.person, page=target, name=request.POST.get("name", ""), query=query)
        messages.success(request, _("Kept as “%(name)s”, for you alone.") % {"name": view.name}, extra_tags="good")
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
    return redirect(f"{reverse(target)}?{query}")


@require_POST
@page(Role.COUNTER)
def forget(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """Throw a view of one's own away."""
    view = get_object_or_404(SavedView, pk=pk, person=here.person)
    record.forget_view(by=here.person, view=view)
    messages.success(request, _("The view “%(name)s” is gone; the list is as it was.") % {"name": view.name})
    return redirect(view.page)
