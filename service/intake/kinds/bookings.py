"""Files of bookings."""

from datetime import timedelta
from typing import Any

from fleet import record
from fleet.models import Booking, GuestName
from fleet.ranges import DRAW_LENGTH, PEAK_WEIGHT, SHOTS
from fleet.vocabulary import Hand
from service.intake.changes import Change, Status, compare
from service.intake.columns import may_be_emptied
from service.intake.desk import Desk
from service.intake.kind import Kind
from service.intake.numbers import quantity, whole
from service.intake.problems import CellError
from service.intake.rows import Row
from service.intake.times import instant
from service.intake.words import bow_column, choice, site_column, text
from service.said import say
from service.units import Dimension

COLUMNS = (
    text("reference", 40, say("the booking's reference: unique"), required=True),
    may_be_emptied(bow_column(required=False)),
    site_column(),
    may_be_emptied(choice("hand", dict(Hand.choices), say("the hand that the guest needs")), ""),
    may_be_emptied(
        quantity("draw_length", DRAW_LENGTH, Dimension.LENGTH, say("true draw length that the guest needs"))
    ),
    may_be_emptied(quantity("peak_weight_min", PEAK_WEIGHT, Dimension.FORCE, say("lightest peak weight that suits"))),
    may_be_emptied(quantity("peak_weight_max", PEAK_WEIGHT, Dimension.FORCE, say("heaviest peak weight that suits"))),
    whole("expected_shots", SHOTS, say("shots expected")),
    text("guest_name", 60, say("display name, if one is needed; erased after the site's number of days")),
    instant("start", say("when it begins"), required=True, past=False),
    instant("end", say("when it ends"), required=True, past=False),
)
_ATTRIBUTES = {
    "hand": "hand",
    "draw_length": "draw_length_m",
    "peak_weight_min": "peak_weight_min_n",
    "peak_weight_max": "peak_weight_max_n",
    "expected_shots": "expected_shots",
}


def _take(row: Row, desk: Desk) -> Change:
    site = desk.site_of(row.values)
    _check(row)
    # A name whose time is over was erased for good: an old file does not bring it back.
    if "guest_name" in row.values and row["end"].date() + timedelta(days=site.guest_name_days) <= desk.now.date():
        del row.values["guest_name"]
    booking = Booking.objects.filter(reference=row["reference"]).select_related("bow", "site").first()
    change = compare(row, row["reference"], _before(booking))
    if change.status is not Status.UNCHANGED:
        record.put_booking(
            by=desk.by,
            site=site if booking is None or "site" in row.values else booking.site,
            reference=row["reference"],
            start=row["start"],
            end=row["end"],
            guest_name=row.get("guest_name", ""),
            **({"bow": row["tag"]} if "tag" in row.values else {}),
            **{name: row[field] for field, name in _ATTRIBUTES.items() if field in row.values},
        )
    return change


def _check(row: Row) -> None:
    if row["end"] <= row["start"]:
        raise CellError(
            say("it ends before it begins"), allowed=say("after the start"), fix=say("swap them"), column="end"
        )
    if not row.get("tag") and not row.get("hand"):
        raise CellError(
            say("the row names neither the very bow nor what the guest needs"),
            allowed=say("a tag, or a hand with draw length and peak weights"),
            fix=say("fill in one of them"),
            column="tag",
        )
    low, high = row.get("peak_weight_min"), row.get("peak_weight_max")
    if low is not None and high is not None and low > high:
        raise CellError(
            say("it is below the lightest one"),
            allowed=say("the lightest or more"),
            fix=say("swap them"),
            column="peak_weight_max",
        )


def _before(booking: Booking | None) -> dict[str, Any] | None:
    if booking is None:
        return None
    name = GuestName.objects.filter(booking=booking).first()
    return {
        "reference": booking.reference,
        "tag": booking.bow,
        "site": booking.site,
        "start": booking.start,
        "end": booking.end,
        "guest_name": name.display_name if name else "",
        **{field: getattr(booking, attribute) for field, attribute in _ATTRIBUTES.items()},
    }


BOOKINGS = Kind("bookings", say("guests' bookings: the very bow, or what is needed"), COLUMNS, ("reference",), _take)
