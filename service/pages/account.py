"""Signing in and out, and where a person starts."""

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.decorators import method_decorator

from fleet.models import Person
from fleet.record.second_factor import has_second_factor
from fleet.vocabulary import Role
from service.pages.access import Here, page
from service.pages.second_factor import ask_for_code


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    """The sign-in page."""

    template_name = "account/sign_in.html"
    redirect_authenticated_user = True

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Sign the person in, or ask for their code first."""
        person = form.get_user()
        if isinstance(person, Person) and has_second_factor(person):
            return ask_for_code(self.request, person, self.get_success_url())
        return super().form_valid(form)

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Answer too many tries in our own words."""
        response = super().dispatch(request, *args, **kwargs)
        if not getattr(request, "axes_locked_out", False):
            return response
        # The guard's middleware would put its own bare line in place of this page.
        request.axes_locked_out = False  # type: ignore[attr-defined]
        return render(request, "account/resting.html", status=429)


class SignOut(LogoutView):
    """Ends the session."""


@page(Role.COUNTER)
def home(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Each kind of user starts at their own work."""
    return redirect({Role.COUNTER: "turnaround-fleet", Role.TECHNICIAN: "queue"}.get(Role(here.role), "due"))
