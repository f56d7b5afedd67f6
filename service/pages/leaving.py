"""Somebody leaves: their sign-in is closed, and later their name is erased. For an owner of every site."""

from datetime import UTC, datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Departure, Person
from fleet.record.erasing import kept_until
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service.pages.access import Here, page


@page(Role.OWNER, everywhere=True)
def leaving(request: HttpRequest, here: Here, name: str) -> HttpResponseBase:
    """Close a person's sign-in, let them in again, or erase their name."""
    person = get_object_or_404(Person, username=name)
    error = ""
    if request.method == "POST":
        try:
            return _act(request, here, person)
        except Refused as problem:
            error = str(problem)
    content = {
        "person": person,
        "departure": Departure.objects.filter(person=person).first(),
        "kept_until": kept_until(person),
        "error": error,
        "given": request.POST,
    }
    return render(request, "desk/leaving.html", content, status=422 if error else 200)


def _act(request: HttpRequest, here: Here, person: Person) -> HttpResponseBase:
    now, action = datetime.now(UTC), request.POST.get("action", "")
    if action == "close":
        departure = record.let_go(by=here.person, person=person, now=now)
        told = _("%(person)s cannot sign in any more; the name is erased on %(day)s.")
        messages.success(request, told % {"person": person, "day": departure.erase_on}, extra_tags="good")
        return redirect("leaving", person.username)
    if action == "let_in":
        record.let_in_again(by=here.person, person=person)
        told = _("%(person)s may work here again: give a role, then a password.")
        messages.success(request, told % {"person": person}, extra_tags="good")
        return redirect("record-change", "people", person.username)
    if action == "erase":
        return _erase(request, here, person, now)
    raise Refused(_("Choose what is to be done: close the sign-in, or erase the name."))


def _erase(request: HttpRequest, here: Here, person: Person, now: datetime) -> HttpResponseBase:
    if "sure" not in request.POST:
        raise Refused(_("Tick that you are sure: a name that is erased cannot be brought back."))
    also = tuple(one for one in request.POST.get("also", "").split(",") if one.strip())
    why = request.POST.get("forced_because", "")
    left = record.erase_person(by=here.person, person=person, now=now, forced_because=why, also=also)
    told = _("The name is erased: %(person)s stands on all that they did.") % {"person": f"person {person.pk}"}
    messages.success(request, told, extra_tags="good")
    if left:
        told = _("It still stands here, where it names a thing; rename these: %(places)s.") % {
            "places": "; ".join(left)
        }
        messages.warning(request, told, extra_tags="care")
    return redirect("house")
