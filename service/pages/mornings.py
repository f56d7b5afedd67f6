"""The morning's mail as a person asks for it, and how the nights went, for the manager."""

from datetime import UTC, datetime

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from fleet import record
from fleet.models import DigestWish
from fleet.ranges import HOUR_OF_DAY
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service.languages import language_of
from service.models import DigestSent, NightlyRun
from service.night.digests import is_mail_configured
from service.night.run import BEGINS_AT_HOUR, MOST_TRIES
from service.pages.access import Here, page

NIGHTS_SHOWN = 30


class MorningForm(forms.Form):
    """Where, when and in which language the mail comes."""

    email = forms.EmailField(label=gettext_lazy("Your e-mail address"))
    hour = forms.IntegerField(
        min_value=int(HOUR_OF_DAY.low),
        max_value=int(HOUR_OF_DAY.high),
        label=gettext_lazy("Not before this hour"),
        help_text=gettext_lazy("0 to 23, on your own clock"),
    )
    time_zone = forms.CharField(
        max_length=40, label=gettext_lazy("Your time zone"), help_text=gettext_lazy("such as Europe/Paris")
    )
    language = forms.ChoiceField(choices=settings.LANGUAGES, label=gettext_lazy("Language"))


@page(Role.TECHNICIAN)
def morning(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Ask for the site's morning by mail, or change how it comes."""
    wish = DigestWish.objects.filter(person=here.person, site=here.site).first()
    if request.method != "POST":
        return _show(request, here, wish, MorningForm(initial=_as_it_is(here, wish)))
    form = MorningForm(request.POST)
    if form.is_valid():
        try:
            record.ask_for_digest(by=here.person, site=here.site, now=datetime.now(UTC), **form.cleaned_data)
        except Refused as problem:
            form.add_error(None, str(problem))
        else:
            told = _("You get the morning of %(site)s by mail.") % {"site": here.site}
            messages.success(request, told, extra_tags="good")
            return redirect("morning-mail")
    return _show(request, here, wish, form, status=422)


def _as_it_is(here: Here, wish: DigestWish | None) -> dict[str, object]:
    kept = {
        "time_zone": wish.time_zone if wish else here.site.time_zone,
        "hour": wish.hour if wish else DigestWish._meta.get_field("hour").default,
        "language": wish.language if wish else language_of(here.person),
    }
    return {"email": here.person.email, **kept}


def _show(
    request: HttpRequest, here: Here, wish: DigestWish | None, form: MorningForm, status: int = 200
) -> HttpResponseBase:
    content = {
        "form": form,
        "wish": wish,
        "configured": is_mail_configured(),
        "last": DigestSent.objects.filter(wish=wish).first() if wish else None,
    }
    return render(request, "night/morning.html", content, status=status)


@require_POST
@page(Role.TECHNICIAN)
def stop_morning(request: HttpRequest, here: Here) -> HttpResponseBase:
    """No more mail about this site."""
    record.stop_digest(by=here.person, site=here.site)
    messages.success(request, _("The morning of %(site)s is not mailed to you any more.") % {"site": here.site},
                     extra_tags="good")  # fmt: skip
    return redirect("morning-mail")


@page(Role.MANAGER)
def nights(request: HttpRequest, here: Here) -> HttpResponseBase:
    """How the site's last nights went."""
    content = {
        "nights": NightlyRun.objects.filter(site=here.site)[:NIGHTS_SHOWN],
        "hour": BEGINS_AT_HOUR,
        "most_tries": MOST_TRIES,
        "configured": is_mail_configured(),
        "wishes": DigestWish.objects.filter(site=here.site).select_related("person"),
    }
    return render(request, "night/nights.html", content)
