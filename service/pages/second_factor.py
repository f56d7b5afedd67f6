"""The second factor: asked for at sign-in, taken and ended on a page of one's own, reset by an owner, required."""

import base64
import time
from collections.abc import Callable
from typing import Any

import segno
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.crypto import constant_time_compare
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django_otp.plugins.otp_totp.models import TOTPDevice
from django_otp.util import random_hex

from fleet.models import Person, Post
from fleet.record import drop_second_factor, take_second_factor
from fleet.record.second_factor import accepts, has_second_factor, recovery_codes_left
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service.pages.access import Here, page

HALF_IN, NEW_KEY = "half-signed-in", "second-factor-key"
# Between the password and the code.
PATIENCE_S = 300
KEY_BYTES = 20
# What somebody who has yet to take a second factor may still do.
OPEN_WITHOUT = frozenset(
    {
        *("second-factor", "first-site", "sign-in", "sign-in-code", "sign-out"),
        *("theme", "language", "live", "ready", "metrics"),
    }
)


def ask_for_code(request: HttpRequest, person: Person, onward: str) -> HttpResponse:
    """Keep that the password was right, and ask for the code; nobody is signed in yet."""
    request.session.cycle_key()
    request.session[HALF_IN] = {
        "person": person.pk,
        "password": person.get_session_auth_hash(),
        "at": time.time(),
        "onward": onward,
    }
    return redirect("sign-in-code")


@login_not_required
@never_cache
@sensitive_post_parameters("code")
def sign_in_code(request: HttpRequest) -> HttpResponseBase:
    """The second step of a sign-in."""
    half = request.session.get(HALF_IN)
    person = _half_signed_in(half)
    if half is None or person is None:
        request.session.pop(HALF_IN, None)
        return redirect("sign-in")
    if request.method == "POST":
        if accepts(person, request.POST.get("code", "")):
            del request.session[HALF_IN]
            login(request, person, backend="django.contrib.auth.backends.ModelBackend")
            return redirect(half["onward"])
        return render(request, "account/code.html", {"wrong": True}, status=422)
    return render(request, "account/code.html", {"wrong": False})


def _half_signed_in(half: dict[str, Any] | None) -> Person | None:
    """Whose password was right a moment ago and is still theirs."""
    if half is None or not 0 <= time.time() - half["at"] <= PATIENCE_S:
        return None
    person = Person.objects.filter(pk=half["person"], is_active=True).first()
    if person is None or not constant_time_compare(person.get_session_auth_hash(), half["password"]):
        return None
    return person


@page(Role.COUNTER)
@never_cache
@sensitive_post_parameters("code")
def second_factor(request: HttpRequest, here: Here) -> HttpResponseBase:
    """One's own second factor: take it, or end it."""
    if has_second_factor(here.person):
        return _end(request, here.person)
    key = request.session.setdefault(NEW_KEY, random_hex(KEY_BYTES))
    error = ""
    if request.method == "POST":
        try:
            codes = take_second_factor(by=here.person, key=key, code="".join(request.POST.get("code", "").split()))
            del request.session[NEW_KEY]
            return render(request, "account/recovery_codes.html", {"codes": codes})
        except Refused as problem:
            error = str(problem)
    content = {**_shown(here.person, key), "error": error, "required": is_required_of(here.person)}
    return render(request, "account/second_factor.html", content, status=422 if error else 200)


def _end(request: HttpRequest, person: Person) -> HttpResponseBase:
    wrong = False
    if request.method == "POST":
        if accepts(person, request.POST.get("code", "")):
            drop_second_factor(by=person, person=person)
            messages.success(request, _("You are not asked for a code any more."), extra_tags="good")
            return redirect("second-factor")
        wrong = True
    content = {"left": recovery_codes_left(person), "wrong": wrong, "required": is_required_of(person)}
    return render(request, "account/second_factor_on.html", content, status=422 if wrong else 200)


def _shown(person: Person, key: str) -> dict[str, str]:
    """The key as a picture for the app and as letters to type (base32, as the apps want it)."""
    device = TOTPDevice(user=person, key=key)
    letters = base64.b32encode(device.bin_key).decode()
    return {
        "code_picture": segno.make(device.config_url, error="m").svg_data_uri(scale=5, border=4, light="#fff"),
        "letters": " ".join(letters[start : start + 4] for start in range(0, len(letters), 4)),
    }


@page(Role.OWNER, everywhere=True)
def reset(request: HttpRequest, here: Here, name: str) -> HttpResponseBase:
    """End the second factor of somebody who has lost both phone and recovery codes."""
    person = get_object_or_404(Person, username=name)
    if request.method == "POST":
        drop_second_factor(by=here.person, person=person)
        told = _("%(person)s signs in with the password alone until they take a new second factor.")
        messages.success(request, told % {"person": person}, extra_tags="good")
        return redirect("house")
    content = {"person": person, "has": has_second_factor(person)}
    return render(request, "desk/second_factor_reset.html", content)


def is_required_of(person: Person) -> bool:
    """Whether the house requires a second factor of somebody with this person's roles."""
    wanted = settings.SECOND_FACTOR_REQUIRED_OF
    return bool(wanted) and Post.objects.filter(person=person, role__in=wanted).exists()


class SecondFactorWhereRequired:
    """Middleware: who must have a second factor and has none is led to the page that gives one, and nowhere else."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: object, args: object, kwargs: object) -> HttpResponseBase | None:
        """Before a page is opened."""
        person = request.user
        if not settings.SECOND_FACTOR_REQUIRED_OF or not isinstance(person, Person):
            return None
        match = request.resolver_match
        if match is not None and match.url_name in OPEN_WITHOUT:
            return None
        if is_required_of(person) and not has_second_factor(person):
            return redirect("second-factor")
        return None
