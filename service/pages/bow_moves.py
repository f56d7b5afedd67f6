"""A bow leaves: for another site, or for good."""

from datetime import UTC, datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from fleet import lookups, record
from fleet.models import Bow
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service.models import OPEN_ORDER
from service.pages.access import Here, bow_page


@bow_page(Role.MANAGER)
def move(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """Send a bow to another site at which the reader is a manager too."""
    sites = lookups.sites_of(here.person, Role.MANAGER).exclude(pk=bow.site_id)
    if request.method == "POST":
        target = sites.filter(code=request.POST.get("site", "")).first()
        try:
            if target is None:
                raise Refused(_("Choose the site that the bow goes to: one at which you are a manager."))
            _check_free(bow)
            record.move_to_site(by=here.person, bow=bow, site=target)
            told = _("%(tag)s belongs to %(site)s now. Say there where it is kept.") % {"tag": bow.tag, "site": target}
            messages.success(request, told, extra_tags="good")
            return redirect("bow", tag=bow.tag)
        except Refused as problem:
            messages.error(request, str(problem), extra_tags="stop")
    return render(request, "desk/bow_move.html", {"bow": bow, "sites": sites})


@bow_page(Role.MANAGER)
def retire(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """Take a bow out of service for good."""
    why = request.POST.get("why", "").strip()
    if request.method == "POST":
        try:
            if not why:
                raise Refused(_("Say why the bow is retired: it stays in the book with its whole history."))
            _check_free(bow)
            record.retire(by=here.person, bow=bow, at=datetime.now(UTC), why=why)
            messages.success(request, _("%(tag)s is retired.") % {"tag": bow.tag}, extra_tags="good")
            return redirect("bow", tag=bow.tag)
        except Refused as problem:
            messages.error(request, str(problem), extra_tags="stop")
    return render(request, "desk/bow_retire.html", {"bow": bow, "why": why})


def _check_free(bow: Bow) -> None:
    order = bow.orders.filter(status__in=OPEN_ORDER).first()
    if order is not None:
        raise Refused(
            _("%(tag)s has the open order %(number)s: close or cancel it first.")
            % {"tag": bow.tag, "number": order.number}
        )
    if lookups.state_of(bow) == "out":
        raise Refused(_("%(tag)s is out with a guest: take it back first.") % {"tag": bow.tag})
