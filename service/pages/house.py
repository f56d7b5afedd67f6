"""The house: what a site has and who works there, each record on a form; the first steps of an empty book."""

from datetime import UTC, datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Departure, MeasuringTool, Person, Place, Post, Press, SpecSheet
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service.first_steps import first_steps
from service.pages.access import Here, founding_page, is_everywhere, page
from service.pages.known_records import known_record
from service.pages.record_form import RecordForm, form_of
from service.pages.take_in_scope import open_kinds
from service.pages.typed_kinds import TYPED_KINDS

# Where one goes on after a record of a kind is written.
AFTER = {"bows": "bows", "cords": "first-steps", "stays": "first-steps", "cord-specs": "cord-specs"}


@page(Role.MANAGER)
def house(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The site's settings, places, presses, tools and people, each with its way to a form."""
    posts = Post.objects.filter(site=here.site) | Post.objects.filter(site=None)
    content = {
        "site": here.site,
        "places": Place.objects.filter(site=here.site),
        "presses": Press.objects.filter(site=here.site).order_by("name"),
        "sheets": SpecSheet.objects.order_by("maker", "model", "code"),
        "tools": MeasuringTool.objects.filter(site=here.site),
        "posts": posts.select_related("person").order_by("person__display_name"),
        "departures": Departure.objects.select_related("person").order_by("erase_on"),
        "owner": is_everywhere(here.person, Role.OWNER),
        "today": datetime.now(UTC).date(),
    }
    return render(request, "desk/house.html", content)


@page(Role.MANAGER)
def steps(request: HttpRequest, here: Here) -> HttpResponseBase:
    """From an empty book to the first printed queue."""
    content = {
        "steps": first_steps(here.site),
        "open_kinds": open_kinds(here.person, list(TYPED_KINDS)),
        "typed_kinds": TYPED_KINDS,
    }
    return render(request, "desk/first_steps.html", content)


@page(Role.MANAGER)
def new_record(request: HttpRequest, here: Here, kind: str) -> HttpResponseBase:
    """Add one record of a kind."""
    _check_open(here, kind)
    return _record(request, here, kind, {})


@page(Role.MANAGER)
def change_record(request: HttpRequest, here: Here, kind: str, name: str) -> HttpResponseBase:
    """Change one record of a kind."""
    _check_open(here, kind)
    return _record(request, here, kind, known_record(kind, name, here, datetime.now(UTC)))


def _check_open(here: Here, kind: str) -> None:
    if kind not in TYPED_KINDS:
        raise Http404(_("There is no form for '%(kind)s': take a file in.") % {"kind": kind[:40]})
    if kind not in open_kinds(here.person, list(TYPED_KINDS)):
        raise PermissionDenied(_("Sites and people are changed by an owner of every site."))


def _record(request: HttpRequest, here: Here, kind: str, known: Any) -> HttpResponseBase:
    typed = request.POST.dict() if request.method == "POST" else None
    form = form_of(kind, here.sites, here.site, typed, known)
    if typed is not None and form.take(here, here.person, here.site, datetime.now(UTC)):
        messages.success(request, _("%(title)s: kept.") % {"title": form.title}, extra_tags="good")
        again = request.path if "again" in request.POST else None
        return redirect(again or AFTER.get(kind, "house"))
    return _show(request, form, changing=bool(known))


def _show(request: HttpRequest, form: RecordForm, *, changing: bool) -> HttpResponseBase:
    content = {"form": form, "changing": changing}
    return render(request, "desk/record.html", content, status=422 if form.slips or form.errors else 200)


@founding_page
def first_site(request: HttpRequest, person: Person) -> HttpResponseBase:
    """The first site of an empty book."""
    typed = request.POST.dict() if request.method == "POST" else None
    form = form_of("sites", (), None, typed, {})
    if typed is not None and form.take(None, person, None, datetime.now(UTC)):
        return redirect("first-steps")
    return _show(request, form, changing=False)


@page(Role.OWNER, everywhere=True)
def password(request: HttpRequest, here: Here, name: str) -> HttpResponseBase:
    """Give a person the password that they sign in with first."""
    person = get_object_or_404(Person, username=name)
    error = ""
    if request.method == "POST":
        try:
            _set_password(here, person, request.POST.get("password", ""))
            told = _("%(person)s can sign in as %(name)s.") % {"person": person, "name": person.username}
            messages.success(request, told, extra_tags="good")
            return redirect("house")
        except ValidationError as problem:
            error = " ".join(problem.messages)
        except Refused as problem:
            error = str(problem)
    return render(request, "desk/password.html", {"person": person, "error": error}, status=422 if error else 200)


def _set_password(here: Here, person: Person, typed: str) -> None:
    validate_password(typed, person)
    post = person.posts.filter(site=None).first() or person.posts.filter(site=person.site).first()
    if post is None:
        raise Refused(f"{person} has no role at any site: give one first.")
    record.put_person(
        by=here.person,
        username=person.username,
        display_name=person.display_name,
        site=person.site,
        role=post.role,
        role_everywhere=post.site_id is None,
        password=typed,
        email=person.email,
    )
