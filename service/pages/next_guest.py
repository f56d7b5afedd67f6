"""The next guest, on the phone: a few taps, and the bows that fit now."""

from datetime import UTC, datetime, timedelta

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext as _

from fleet.models import Booking
from fleet.ranges import DRAW_LENGTH, PEAK_WEIGHT, Range
from fleet.vocabulary import Hand, Role
from service import decide
from service.guests.found import FitsInOrder, in_order
from service.guests.hire_bows import guest_booking
from service.guests.search import WALK_IN, Page, found_for
from service.house import HIRE_SHOTS_AN_HOUR
from service.instants import day_of, end_of, start_of
from service.pages.access import Here, page
from service.pages.turnaround import not_kept
from service.plan.guests import GuestBooking
from service.quantity_refusals import QuantityError
from service.units import Dimension, Units, read_quantity, symbol, unit_shown

HOURS = ("1", "2", "3", "4", "8")


@not_kept
@page(Role.COUNTER)
def next_guest(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Ask what the guest needs, or take a booking of today; show the bows that fit, and why the others do not."""
    now = datetime.now(UTC)
    problems: dict[str, str] = {}
    asked = _asked(request, here, now, problems)
    found = FitsInOrder((), (), ())
    if asked is not None:
        decide.refresh_stale(now)
        found = found_for(here.site, asked, now, Page.asked_by(request.GET))
    # Somebody stands here: what the bench has yet to do is no bow for now.
    fits = [*found.best, *found.further]
    offered = in_order([one for one in fits if one.bench_day is None], few=len(found.best) or 1, beyond=found.beyond)
    units = Units(here.site.units)
    content = {
        "asked": asked,
        "fits": offered,
        "others": [*(one for one in fits if one.bench_day is not None), *found.others],
        "given": request.GET,
        "problems": problems,
        "hands": Hand.choices,
        "hours": HOURS,
        "length_unit": symbol(unit_shown(Dimension.LENGTH, units)),
        "force_unit": symbol(unit_shown(Dimension.FORCE, units)),
        "bookings": _todays(here, now),
        "now": now,
    }
    return render(request, "phone/next_guest.html", content, status=422 if problems else 200)


def _asked(request: HttpRequest, here: Here, now: datetime, problems: dict[str, str]) -> GuestBooking | None:
    """What is needed, from the booking that was chosen or from what was typed; None before anything was asked."""
    booking = Booking.objects.filter(site=here.site, reference=request.GET.get("booking", "")).first()
    if booking is not None:
        return guest_booking(booking)
    hours = request.GET.get("hours", "")
    if not hours:
        return None
    if hours not in HOURS:
        problems["hours"] = _("How long: choose one.")
        return None
    units = Units(here.site.units)
    length = _quantity(request, "draw_length", DRAW_LENGTH, unit_shown(Dimension.LENGTH, units), problems)
    weight = unit_shown(Dimension.FORCE, units)
    low = _quantity(request, "weight_from", PEAK_WEIGHT, weight, problems)
    high = _quantity(request, "weight_to", PEAK_WEIGHT, weight, problems)
    if problems:
        return None
    hand, until = request.GET.get("hand", ""), now + timedelta(hours=int(hours))
    return GuestBooking(
        reference=WALK_IN,
        first=day_of(now, here.site.time_zone),
        last=day_of(until, here.site.time_zone),
        shots=float(hours) * HIRE_SHOTS_AN_HOUR,
        hand=hand if hand in Hand.values else None,
        draw_length_m=length,
        peak_weight_n=None if low is None and high is None else (low or 0.0, high or float("inf")),
        hours=(now, until),
    )


def _quantity(request: HttpRequest, name: str, allowed: Range, unit: str, problems: dict[str, str]) -> float | None:
    typed = request.GET.get(name, "").strip()
    if not typed:
        return None
    try:
        return read_quantity(typed, unit, name=allowed.name, low=allowed.low, high=allowed.high)
    except QuantityError as problem:
        problems[name] = str(problem)
        return None


def _todays(here: Here, now: datetime) -> list[Booking]:
    """Today's bookings whose guest has no bow yet, the next one first."""
    day, zone = day_of(now, here.site.time_zone), here.site.time_zone
    todays = Booking.objects.filter(site=here.site, cancelled_at=None, start__lt=end_of(day, zone), end__gt=now)
    return list(todays.filter(start__gte=start_of(day, zone), hires=None).select_related("bow").order_by("start")[:40])
