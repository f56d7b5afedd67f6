"""Verbs on bookings and the erasable guest names."""

from datetime import date, datetime, timedelta
from typing import Any

from fleet.models import Booking, GuestName, Person, Site
from fleet.ranges import DRAW_LENGTH, PEAK_WEIGHT, SHOTS
from fleet.record.kernel import audit, put, verb
from fleet.refusal import Refused
from fleet.vocabulary import Hand


@verb
def put_booking(
    *, by: Person, site: Site, reference: str, start: datetime, end: datetime, guest_name: str = "", **values: Any
) -> Booking:
    """Add a booking, or change the one with this reference: the very bow, or what the guest needs (SI)."""
    if end <= start:
        raise Refused(f"{reference}: the booking ends at {end} not after its begin {start}: swap them.")
    if values.get("hand") and values["hand"] not in Hand.values:
        raise Refused(f"{reference}: hand {values['hand']!r} is not one of {', '.join(Hand.values)}.")
    for field, allowed in (
        ("draw_length_m", DRAW_LENGTH),
        ("peak_weight_min_n", PEAK_WEIGHT),
        ("peak_weight_max_n", PEAK_WEIGHT),
        ("expected_shots", SHOTS),
    ):
        if values.get(field) is not None:
            allowed.check(values[field])
    if not (values.get("bow") or values.get("hand")):
        raise Refused(f"{reference}: name the very bow by its tag, or the hand that the guest needs.")
    booking = Booking.objects.filter(reference=reference).first() or Booking(reference=reference)
    changed = put(booking, {"site": site, "start": start, "end": end, **values})
    if changed:
        audit(by, "put_booking", booking, bow=booking.bow, reference=reference, changed=changed)
    if guest_name:
        erase_on = end.date() + timedelta(days=site.guest_name_days)
        GuestName.objects.update_or_create(booking=booking, defaults={"display_name": guest_name, "erase_on": erase_on})
    return booking


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
