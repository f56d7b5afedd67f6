"""A booking corrected: when it is, what the guest needs, how many shots are expected."""

from datetime import UTC, datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Booking
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service.guests.proposals import give_one
from service.pages.access import Here, page
from service.pages.guests_form import BookingForm
from service.units import Dimension, Units, from_si, unit_shown

SHOWN_DIGITS = 4
ROUNDED = {
    "draw_length_m": "draw_length",
    "peak_weight_min_n": "peak_weight_min",
    "peak_weight_max_n": "peak_weight_max",
}


@page(Role.COUNTER)
def change_booking(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """The booking's form as it stands; what is cleared is not asked for any more."""
    found = get_object_or_404(Booking.objects.select_related("bow", "site"), pk=pk, site=here.site)
    form = _form(here, found, request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        given = form.cleaned_data
        try:
            now = datetime.now(UTC)
            changed = record.change_booking(
                by=here.person, booking=found, start=given["start"], end=given["end"], now=now, bow=given["bow"],
                **_needed(form, found),
            )  # fmt: skip
        except Refused as problem:
            form.add_error(None, str(problem))
        else:
            give_one(changed, now)
            messages.success(request, _("%(ref)s is changed.") % {"ref": found.reference}, extra_tags="good")
            return redirect("booking", pk=found.pk)
    status = 422 if form.is_bound else 200
    return render(request, "guests/booking_change.html", {"booking": found, "form": form}, status=status)


def _form(here: Here, found: Booking, typed: Any) -> BookingForm:
    """A booking keeps its reference, and its guest's name is another matter."""
    form = BookingForm(here.site, typed, initial=_known(found))
    for name in ("reference", "guest_name"):
        del form.fields[name]
    return form


def _needed(form: BookingForm, found: Booking) -> dict[str, Any]:
    """What the verb takes; what was shown rounded and left alone is what it was, to the last digit."""
    left = {name: field for name, field in ROUNDED.items() if field not in form.changed_data}
    return form.needed() | {name: getattr(found, name) for name in left}


def _known(found: Booking) -> dict[str, Any]:
    """What the booking says, in the site's units."""
    system = Units(found.site.units)
    length, weight = unit_shown(Dimension.LENGTH, system), unit_shown(Dimension.FORCE, system)

    def shown(value: float | None, unit: str) -> str:
        return "" if value is None else f"{round(from_si(value, unit), SHOWN_DIGITS):g}"

    return {
        "start": found.start,
        "end": found.end,
        "hand": found.hand,
        "draw_length": shown(found.draw_length_m, length),
        "peak_weight_min": shown(found.peak_weight_min_n, weight),
        "peak_weight_max": shown(found.peak_weight_max_n, weight),
        "expected_shots": found.expected_shots,
        "bow": found.bow,
    }
