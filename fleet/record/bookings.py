"""Verbs on bookings and the erasable guest names."""

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from fleet.models import Booking, Bow, GuestName, Hire, Person, Retirement, Site
from fleet.ranges import DRAW_LENGTH, PEAK_WEIGHT, SHOTS
from fleet.record.kernel import audit, put, verb
from fleet.refusal import Refused
from fleet.vocabulary import Hand
from service.wording import moment_here

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
    _check_free(booking, values.get("bow", booking.bow), start, end)
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
            raise Refused(
                _("%(reference)s: the %(what)s %(moment)s has no time zone: give it in the site's zone or in UTC.")
                % {"reference": reference, "what": what, "moment": moment}
            )
    if end <= start:
        raise Refused(
            _("%(reference)s: the booking ends at %(end)s not after its begin %(start)s: swap them.")
            % {"reference": reference, "end": end, "start": start}
        )
    after = {name: values.get(name, getattr(booking, name)) for name in (*RANGES, "hand")}
    if after["hand"] and after["hand"] not in Hand.values:
        raise Refused(
            _("%(reference)s: hand '%(hand)s' is not one of %(values)s.")
            % {"reference": reference, "hand": after["hand"], "values": ", ".join(Hand.values)}
        )
    for name, allowed in RANGES.items():
        if after[name] is not None:
            allowed.check(after[name])
    low, high = after["peak_weight_min_n"], after["peak_weight_max_n"]
    if low is not None and high is not None and low > high:
        raise Refused(
            _("%(reference)s: peak weight runs from %(low)s to %(high)s N: the smaller number comes first.")
            % {"reference": reference, "low": f"{low:g}", "high": f"{high:g}"}
        )
    if not (values.get("bow", booking.bow) or after["hand"]):
        raise Refused(
            _("%(reference)s: name the very bow by its tag, or the hand that the guest needs.")
            % {"reference": reference}
        )


def _check_free(booking: Booking, bow: Bow | None, start: datetime, end: datetime) -> None:
    """Refuse a bow that another guest has at that time; one may follow on the other's very end."""
    if bow is None or booking.cancelled_at is not None:
        return
    # Two people at two counters promise the same bow: the second one waits here and then reads the first's booking.
    Bow.objects.select_for_update(of=("self",), no_key=True).get(pk=bow.pk)
    others = Booking.objects.filter(bow=bow, cancelled_at=None, start__lt=end, end__gt=start).exclude(pk=booking.pk)
    other = others.select_related("site").order_by("start").first()
    if other is not None:
        raise Refused(
            _(
                "%(reference)s: %(tag)s is promised under %(other_reference)s from %(start)s to %(end)s: pick "
                "another bow or another time, or cancel that booking first."
            )
            % {
                "reference": booking.reference,
                "tag": bow.tag,
                "other_reference": other.reference,
                "start": moment_here(other.start, other.site.time_zone),
                "end": moment_here(other.end, other.site.time_zone),
            }
        )


@verb
def change_booking(
    *, by: Person, booking: Booking, start: datetime, end: datetime, now: datetime, **values: Any
) -> Booking:
    """Correct when a booking is, or what it needs (SI): what it said before stands in the audit row.

    Refused once it is cancelled or over, for a bow that another guest has then, and for the begin or the bow of a
    booking whose guest has been handed a bow already.
    """
    booking = Booking.objects.select_for_update(of=("self",)).get(pk=booking.pk)
    _check_still_to_come(booking, now)
    values = {"bow": booking.bow, **values}
    hire = Hire.objects.filter(booking=booking).select_related("bow").order_by("out_at").first()
    if hire is not None and (start != booking.start or values["bow"] != booking.bow):
        raise Refused(
            _(
                "%(reference)s: %(bow)s went out on it at %(out)s, so that its begin %(start)s and its bow stand: "
                "change the end alone, or enter a further booking."
            )
            % {
                "reference": booking.reference,
                "bow": hire.bow.tag,
                "out": moment_here(hire.out_at, booking.site.time_zone),
                "start": moment_here(booking.start, booking.site.time_zone),
            }
        )
    _check_booking(booking, start, end, values)
    _check_free(booking, values["bow"], start, end)
    changed = put(booking, {"start": start, "end": end, **values})
    guest = GuestName.objects.filter(booking=booking).first()
    if guest is not None:
        # A name is erased so many days after the booking's end, which may be another one now.
        _put_guest_name(booking, guest.display_name)
    if changed:
        audit(by, "change_booking", booking, bow=booking.bow, reference=booking.reference, changed=changed)
    return booking


def _check_still_to_come(booking: Booking, now: datetime) -> None:
    if booking.cancelled_at is not None:
        raise Refused(
            _("%(reference)s was cancelled at %(at)s: enter it anew.")
            % {"reference": booking.reference, "at": moment_here(booking.cancelled_at, booking.site.time_zone)}
        )
    if booking.end <= now:
        raise Refused(
            _("%(reference)s was over at %(end)s: what has been stands; enter a new booking.")
            % {"reference": booking.reference, "end": moment_here(booking.end, booking.site.time_zone)}
        )


@verb
def promise_bow(*, by: Person, booking: Booking, bow: Bow | None) -> Booking:
    """Give a booking its very bow, or (None) let the bow go again where the booking says what the guest needs."""
    booking = Booking.objects.select_for_update(of=("self",)).get(pk=booking.pk)
    reference = booking.reference
    if booking.cancelled_at is not None:
        raise Refused(
            _("%(reference)s was cancelled at %(cancelled_at)s: enter it anew.")
            % {"reference": reference, "cancelled_at": moment_here(booking.cancelled_at, booking.site.time_zone)}
        )
    if bow is None and not booking.hand:
        raise Refused(
            _("%(reference)s asks for its very bow and for nothing else: name another bow, or cancel it.")
            % {"reference": reference}
        )
    if bow is not None:
        if bow.site_id != booking.site_id:
            raise Refused(
                _("%(tag)s is at %(site)s, %(reference)s is at %(booking_site)s: pick a bow of that site.")
                % {"tag": bow.tag, "site": bow.site, "reference": reference, "booking_site": booking.site}
            )
        if Retirement.objects.filter(bow=bow).exists():
            raise Refused(_("%(tag)s is retired: pick another bow.") % {"tag": bow.tag})
        _check_free(booking, bow, booking.start, booking.end)
    changed = put(booking, {"bow": bow})
    if changed:
        audit(by, "promise_bow", booking, bow=bow, reference=reference, changed=changed)
    return booking


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
