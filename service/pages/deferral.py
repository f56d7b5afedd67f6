"""A manager puts a replacement off in writing, from the bow's page."""

from datetime import UTC, date, datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.models import Bow
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service.deferring import defer_replacement
from service.pages.access import Here, bow_page


@require_POST
@bow_page(Role.MANAGER)
def defer(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """Write the deferral down, or say why not."""
    given = request.POST.get("until", "")
    try:
        until = date.fromisoformat(given)
        why = request.POST.get("why", "")
        defer_replacement(by=here.person, bow=bow, until=until, why=why, now=datetime.now(UTC))
        told = _("The replacement of %(tag)s is put off to %(until)s.") % {"tag": bow.tag, "until": date_format(until)}
        messages.success(request, told, extra_tags="good")
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
    except ValueError:
        told = _("%(given)s is not a day: write it as YYYY-MM-DD.") % {"given": given[:40] or "–"}
        messages.error(request, told, extra_tags="stop")
    return redirect("bow", tag=bow.tag)
