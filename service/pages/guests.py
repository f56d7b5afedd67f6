"""Guests: bookings of the coming days and their bows, a walk-in, a booking entered, a bow promised."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet import record
from fleet.models import Booking, Bow
from fleet.refusal import Refused
from fleet.vocabulary import Role, WearChoice
from service import decide
from service.guests import fitting, proposals, search
from service.instants import day_of, last_day_until
from service.pages.access import Here, page
from service.pages.guests_form import BookingForm, NeedForm
from service.plan.guests import GuestBooking

LINES_A_PAGE = 30
ONE_HOUR = timedelta(hours=1)


@page(Role.COUNTER)
def guests(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The bookings of the coming days, each with its bow or with one that is proposed."""
    return _show(request, here, BookingForm(here.site), status=200)


def _show(request: HttpRequest, here: Here, form: BookingForm, status: int) -> HttpResponseBase:
    now = datetime.now(UTC)
    decide.refresh_stale(now)
    rows = Paginator(range(proposals.ahead(here.site, now).count()), LINES_A_PAGE).get_page(request.GET.get("page"))
    ahead = fitting.guests_ahead(here.site, now, shown=slice(max(0, rows.start_index() - 1), rows.end_index()))
    by_day = groupby(ahead.lines, key=lambda line: timezone.localdate(line.booking.start))
    content = {
        "ahead": ahead,
        "rows": rows,
        "days": [(day, list(lines)) for day, lines in by_day],
        "shown_days": proposals.SHOWN_DAYS,
        "form": form,
        "choices": WearChoice.choices,
    }
    return render(request, "guests/guests.html", content, status=status)


@require_POST
@page(Role.COUNTER)
def book(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Enter a booking."""
    form = BookingForm(here.site, request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            if Booking.objects.filter(reference=given["reference"]).exists():
                raise Refused(
                    _("%(reference)s is in the book already: give this booking a reference of its own.") % given
                )
            booking = record.put_booking(
                by=here.person, site=here.site, reference=given["reference"], start=given["start"], end=given["end"],
                guest_name=given["guest_name"], bow=given["bow"], **form.needed(),
            )  # fmt: skip
        except Refused as problem:
            form.add_error(None, str(problem))
        else:
            proposals.give_one(booking, datetime.now(UTC))
            messages.success(request, _("%(ref)s is booked.") % {"ref": booking.reference}, extra_tags="good")
            return redirect("booking", pk=booking.pk)
    return _show(request, here, form, status=422)


@page(Role.COUNTER)
def walk_in(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Which ready bows fit somebody who stands at the counter."""
    now = datetime.now(UTC)
    form = NeedForm(here.site, request.GET) if "start" in request.GET else _walk_in_now(here)
    fits = None
    if form.is_bound and form.is_valid():
        decide.refresh_stale(now)
        fits = search.found_for(here.site, _asked(here, form.cleaned_data), now, search.Page.asked_by(request.GET))
    content = {"form": form, "fits": fits, "booking": None}
    return render(request, "guests/walk_in.html", content, status=422 if form.is_bound and fits is None else 200)


def _walk_in_now(here: Here) -> NeedForm:
    """From the next full minute, for an hour."""
    start = timezone.localtime().replace(second=0, microsecond=0, tzinfo=None)
    return NeedForm(here.site, initial={"start": start, "end": start + ONE_HOUR, "expected_shots": 45})


def _asked(here: Here, given: dict[str, Any]) -> GuestBooking:
    zone, low, high = here.site.time_zone, given["peak_weight_min"], given["peak_weight_max"]
    return GuestBooking(
        reference=search.WALK_IN,
        first=day_of(given["start"], zone),
        last=last_day_until(given["end"], zone),
        shots=float(given["expected_shots"]),
        hand=given["hand"] or None,
        draw_length_m=given["draw_length"],
        peak_weight_n=None if low is None and high is None else (low or 0.0, high or float("inf")),
        hours=(given["start"], given["end"]),
    )


@page(Role.COUNTER)
def booking(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """One booking: its bow, the bows that fit, and what speaks against the others."""
    found, now = _booking(here, pk), datetime.now(UTC)
    decide.refresh_stale(now)
    fits = search.instead_of(found, now, search.Page.asked_by(request.GET))
    content = {"booking": found, "fits": fits}
    return render(request, "guests/booking.html", content)


def _booking(here: Here, pk: int) -> Booking:
    return get_object_or_404(Booking.objects.select_related("bow", "site", "guest"), pk=pk, site=here.site)


def _then(request: HttpRequest, pk: int, act: Callable[[], object], told: str) -> HttpResponseBase:
    """Call a verb, say what came of it, and go back to where the button was."""
    try:
        act()
        messages.success(request, told, extra_tags="good")
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
    return redirect("guests") if request.POST.get("then") == "guests" else redirect("booking", pk=pk)


@require_POST
@page(Role.COUNTER)
def promise(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """Promise a bow to a booking; with no bow, let the promised one go."""
    found, now, tag = _booking(here, pk), datetime.now(UTC), request.POST.get("bow", "")
    names = {"ref": found.reference, "tag": tag}
    if not tag:
        told = _("%(ref)s has no bow of its own any more.") % names
        return _then(request, pk, lambda: record.promise_bow(by=here.person, booking=found, bow=None), told)
    bow = get_object_or_404(Bow, tag=tag, site=here.site)
    told = _("%(tag)s is promised to %(ref)s.") % names
    return _then(request, pk, lambda: search.accept(here.site, found, bow, by=here.person, now=now), told)


@require_POST
@page(Role.COUNTER)
def cancel_booking(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """The guest does not come."""
    found = _booking(here, pk)
    told = _("%(ref)s is cancelled.") % {"ref": found.reference}
    return _then(request, pk, lambda: record.cancel_booking(by=here.person, booking=found, at=datetime.now(UTC)), told)


@require_POST
@page(Role.MANAGER)
def erase_guest(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """The guest asks that their name be erased now."""
    found = _booking(here, pk)
    told = _("The guest's name of %(ref)s is erased.") % {"ref": found.reference}
    now = datetime.now(UTC)
    return _then(request, pk, lambda: record.erase_guest_name(by=here.person, booking=found, now=now), told)


@require_POST
@page(Role.MANAGER)
def wear_choice(request: HttpRequest, here: Here) -> HttpResponseBase:
    """How the site spreads wear."""
    wanted = request.POST.get("wear_choice", "")
    if wanted in WearChoice.values:
        record.put_site(by=here.person, code=here.site.code, wear_choice=wanted)
    else:
        messages.error(request, _("Choose one of the two ways to spread wear."), extra_tags="stop")
    return redirect("guests")
