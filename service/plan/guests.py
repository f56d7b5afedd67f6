"""Which bows fit a booking and stay within limits to its end.

SI: draw length in metres, peak weight in newtons; life as a fraction of rated life (wear model's D).
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from service.said import mark

Range = tuple[float, float]


class Misfit(StrEnum):
    """Why a bow is not for a booking."""

    OTHER_BOW = mark("another bow was asked for")
    HAND = mark("other hand")
    DRAW_LENGTH = mark("draw length out of range")
    PEAK_WEIGHT = mark("peak weight out of range")
    NOT_READY = mark("not ready on those days")
    WORN = mark("past its limit before the booking ends")


@dataclass(frozen=True)
class GuestBooking:
    """What a guest needs: the very bow, or hand, draw length and a peak-weight range. None = any.

    Days first..last, both included. `hours` (begin, end), where known: then the bow is free again at the end, and
    two guests may have it on one day. `shots`: expected on the booking as a whole.
    """

    reference: str
    first: date
    last: date
    shots: float
    hand: str | None = None
    draw_length_m: float | None = None
    peak_weight_n: Range | None = None
    bow: str | None = None
    hours: tuple[datetime, datetime] | None = None

    def __post_init__(self) -> None:
        if self.hours is not None and not self.hours[0] < self.hours[1]:
            raise ValueError(f"booking {self.reference}: ends at {self.hours[1]} not after {self.hours[0]}. Swap them.")
        if self.last < self.first:
            raise ValueError(f"booking {self.reference}: ends {self.last} before it begins {self.first}. Swap them.")
        if not self.shots >= 0.0:
            raise ValueError(f"booking {self.reference}: {self.shots} expected shots; 0 or more.")


@dataclass(frozen=True)
class HireBow:
    """A bow as it can be set for a guest, and its wear: D today, per shot and per day, and the D at which it
    must be replaced. `busy`: days first..last on which it is out, on the bench or held; `ready_from` None =
    held with no end in sight; `ready_until`: last day before a check that would hold it (None = none);
    `new_set_on`: bench day on which all its cords are replaced, so that its wear begins anew the day after."""

    id: str
    hand: str
    draw_length_m: Range
    peak_weight_n: Range
    life_used: float
    life_per_shot: float
    life_per_day: float
    life_limit: float
    ready_from: date | None
    ready_until: date | None = None
    busy: tuple[tuple[date, date], ...] = ()
    new_set_on: date | None = None

    def has_new_set(self, day: date) -> bool:
        """Whether its cords will have been replaced before this day."""
        return self.new_set_on is not None and day > self.new_set_on

    def __post_init__(self) -> None:
        for value, what in (
            (self.life_used, "life used"),
            (self.life_per_shot, "life per shot"),
            (self.life_limit, "life limit"),
        ):
            if not value >= 0.0:
                raise ValueError(f"bow {self.id}: {what} is {value}; 0 or more, as a fraction of rated life.")


@dataclass(frozen=True)
class Fit:
    """One bow for one booking: life used at the booking's end if it goes out, and what speaks against it."""

    bow: str
    life_at_end: float
    misfits: tuple[Misfit, ...]

    @property
    def fits(self) -> bool:
        return not self.misfits


def life_by_time(bow: HireBow, today: date, day: date) -> float:
    """Life used by `day` if nobody shoots the bow from now on."""
    if bow.new_set_on is not None and bow.has_new_set(day):
        return bow.life_per_day * (day - max(today, bow.new_set_on)).days
    return bow.life_used + bow.life_per_day * max(0, (day - today).days)


def fit_of(booking: GuestBooking, bow: HireBow, today: date) -> Fit:
    """Everything that speaks against a bow for a booking, other bookings left aside."""
    at_end = life_by_time(bow, today, booking.last) + bow.life_per_shot * booking.shots
    found = []
    if booking.bow is not None and booking.bow != bow.id:
        found.append(Misfit.OTHER_BOW)
    if booking.hand is not None and booking.hand != bow.hand:
        found.append(Misfit.HAND)
    low, high = bow.draw_length_m
    if booking.draw_length_m is not None and not low <= booking.draw_length_m <= high:
        found.append(Misfit.DRAW_LENGTH)
    if booking.peak_weight_n is not None and not _overlap(booking.peak_weight_n, bow.peak_weight_n):
        found.append(Misfit.PEAK_WEIGHT)
    if not _ready(booking, bow):
        found.append(Misfit.NOT_READY)
    if at_end > bow.life_limit:
        found.append(Misfit.WORN)
    return Fit(bow.id, at_end, tuple(found))


def clash(one: GuestBooking, other: GuestBooking) -> bool:
    """Whether two bookings need a bow at one time: by the hour where both have hours, else by the day."""
    if one.hours is not None and other.hours is not None:
        return one.hours[0] < other.hours[1] and other.hours[0] < one.hours[1]
    return one.first <= other.last and other.first <= one.last


def fits_for(booking: GuestBooking, bows: tuple[HireBow, ...], today: date) -> tuple[Fit, ...]:
    """All bows for one booking or walk-in: those that fit first, the least worn at its end first."""
    fits = [fit_of(booking, bow, today) for bow in bows]
    return tuple(sorted(fits, key=lambda fit: (len(fit.misfits), fit.life_at_end, fit.bow)))


def _overlap(one: Range, other: Range) -> bool:
    return one[0] <= other[1] and other[0] <= one[1]


def _ready(booking: GuestBooking, bow: HireBow) -> bool:
    if bow.ready_from is None or booking.first < bow.ready_from:
        return False
    if bow.ready_until is not None and booking.last > bow.ready_until:
        return False
    return all(booking.last < first or last < booking.first for first, last in bow.busy)
