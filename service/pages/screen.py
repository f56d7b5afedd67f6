"""How a person likes the screen, and in which language."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from fleet import record
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service.pages.access import Here, page


@require_POST
@page(Role.COUNTER)
def theme(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Keep how bright the screen is to be, and go back to where it was chosen."""
    return _keep(request, record.choose_theme, by=here.person, theme=request.POST.get("theme", ""))


@require_POST
@page(Role.COUNTER)
def language(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Keep the language of one's pages and paper, and go back to where it was chosen."""
    return _keep(request, record.choose_language, by=here.person, language=request.POST.get("language", ""))


def _keep(request: HttpRequest, choose: Callable[..., Any], **chosen: Any) -> HttpResponseBase:
    try:
        choose(**chosen)
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
    back = request.POST.get("back", "")
    return redirect(back if url_has_allowed_host_and_scheme(back, {request.get_host()}) else "home")
