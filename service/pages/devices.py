"""Tokens of shot counters, loggers and reading programs: made, shown once, revoked."""

from datetime import UTC, datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.cache import add_never_cache_headers
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet import record
from fleet.models import DeviceToken
from fleet.vocabulary import DeviceScope, Role
from service.pages.access import Here, page


@page(Role.MANAGER)
def devices(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The site's tokens, and a form for one more; its secret is on the answer to the form and nowhere else."""
    name, scopes = request.POST.get("name", "").strip(), request.POST.getlist("scopes")
    secret, error = "", ""
    if request.method == "POST":
        try:
            _token, secret = record.make_device_token(
                by=here.person, site=here.site, now=datetime.now(UTC), name=name, scopes=scopes
            )
        except record.Refused as refusal:
            error = str(refusal)
    tokens = DeviceToken.objects.filter(site=here.site).select_related("made_by", "revoked_by")
    content = {
        "secret": secret,
        "error": error,
        "made": name,
        "typed": {} if secret else {"name": name, "scopes": scopes},
        "scopes": DeviceScope.choices,
        "open": [(token, _words(token)) for token in tokens.filter(revoked_at=None)],
        "revoked": [(token, _words(token)) for token in tokens.exclude(revoked_at=None)],
        "address": request.build_absolute_uri("/api/"),
    }
    response = render(request, "desk/devices.html", content, status=422 if error else 200)
    add_never_cache_headers(response)
    return response


def _words(token: DeviceToken) -> str:
    return ", ".join(str(DeviceScope(scope).label) for scope in token.scopes)


@require_POST
@page(Role.MANAGER)
def revoke(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """Let nobody in with this token any more."""
    token = DeviceToken.objects.filter(site=here.site, pk=pk).first()
    if token is None:
        raise Http404(_("There is no such device at %(site)s.") % {"site": here.site})
    record.revoke_device_token(by=here.person, token=token, now=datetime.now(UTC))
    messages.success(request, _("The token of %(name)s is revoked.") % {"name": token.name}, extra_tags="good")
    return redirect("devices")
