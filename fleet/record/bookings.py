"""Verbs on bookings and the erasable guest names."""

from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from fleet.models import Booking, GuestName, Person, Site
from fleet.ranges import DRAW_LENGTH, PEAK_WEIGHT, SHOTS
from fleet.record.kernel import audit, put, verb
from fleet.refusal import Refused
from fleet.vocabulary import Hand

RANGES = {
    "draw_length_m": DRAW_LENGTH,
    "peak_weight_min_n": PEAK_WEIGHT,
    "peak_weight_max_n": PEAK_WEIGHT,
    "expected_shots": SHOTS,
}


@verb
def put_booking(
    *, by: Person, site: Site, reference: str, start: datetime, end: datetime, guest_name: str = "", **values: Any
) -> Booking:
    """Add a booking, or change the one with this reference: the very bow, or what the guest needs (SI)."""
    booking = Booking.objects.filter(reference=reference).first() or Booking(reference=reference)
    _check_booking(booking, start, end, values)
    changed = put(booking, {"site": site, "start": start, "end": end, **values})
    named = bool(guest_name) and _put_guest_name(booking, guest_name)
    if changed or named:
        # The name itself stays out of the audit trail, which is never erased.
        audit(by, "put_booking", booking, bow=booking.bow, reference=reference, changed=changed, guest_named=named)
    return booking


def _check_booking(booking: Booking, start: datetime, end: datetime, values: dict[str, Any]) -> None:
    reference = booking.reference
    for what, moment in (("begin", start), ("end", end)):
        if moment.tzinfo is None:
            raise Refused(f"{reference}: the {what} {moment} has no time zone: give it in the site's zone or in UTC.")
    if end <= start:
        raise Refused(f"{reference}: the booking ends at {end} not after its begin {start}: swap them.")
    after = {name: values.get(name, getattr(booking, name)) for name in (*RANGES, "hand")}
    if after["hand"] and after["hand"] not in Hand.values:
        raise Refused(f"{reference}: hand {after['hand']!r} is not one of {', '.join(Hand.values)}.")
    for name, allowed in RANGES.items():
        if after[name] is not None:
            allowed.check(after[name])
    low, high = after["peak_weight_min_n"], after["peak_weight_max_n"]
    if low is not None and high is not None and low > high:
        raise Refused(f"{reference}: peak weight runs from {low:g} to {high:g} N: the smaller number comes first.")
    if not (values.get("bow", booking.bow) or after["hand"]):
        raise Refused(f"{reference}: name the very bow by its tag, or the hand that the guest needs.")


def _put_guest_name(booking: Booking, guest_name: str) -> bool:
    name = GuestName.objects.filter(booking=booking).first() or GuestName(booking=booking)
    last_day = booking.end.astimezone(ZoneInfo(booking.site.time_zone)).date()
    erase_on = last_day + timedelta(days=booking.site.guest_name_days)
    return bool(put(name, {"display_name": guest_name, "erase_on": erase_on}))


@verb
def cancel_booking(*, by: Person, booking: Booking, at: datetime) -> None:
    """Cancel a booking; it stays in the book."""
    if booking.cancelled_at is None:
        booking.cancelled_at = at
        booking.save(update_fields=["cancelled_at"])
        audit(by, "cancel_booking", booking, bow=booking.bow, reference=booking.reference)


@verb
def erase_guest_names(*, by: Person, today: date) -> int:
    """Erase the names of guests whose time is over; returns how many. Only the count goes into the audit."""
    erased, _ = GuestName.objects.filter(erase_on__lte=today).delete()
    if erased:
        audit(by, "erase_guest_names", None, count=erased)
    return erased
