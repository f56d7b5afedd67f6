"""Signing in and out, and where a person starts."""

from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect

from fleet.vocabulary import Role
from service.pages.access import Here, page


class SignIn(LoginView):
    """The sign-in page."""

    template_name = "account/sign_in.html"
    redirect_authenticated_user = True


class SignOut(LogoutView):
    """Ends the session."""


@page(Role.COUNTER)
def home(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Each kind of user starts at their own work."""
    if here.role == Role.TECHNICIAN:
        return redirect("queue")
    return redirect("bows" if here.role == Role.COUNTER else "due")
