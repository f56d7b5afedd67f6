"""The bows of a site for an assignment: in the order in which wear is spread, checked in full as they are asked for."""

from collections.abc import Iterator
from datetime import date, datetime
from typing import NamedTuple

from fleet.models import Site
from fleet.vocabulary import WearChoice
from service.guest_models import GuestBow
from service.guests.hire_bows import Candidate, candidates
from service.guests.narrow import planned_work
from service.instants import day_of
from service.plan.guests import GuestBooking, HireBow, fit_of

AT_A_TIME = 100
"""Bows checked in one go: few enough for a small question, many enough that queries are few."""
WORN_OUT = 1.0


class _Shape(NamedTuple):
    """What of a bow a booking may ask for, lengths in m, weights in N; `used` is life used, 1 at its limit."""

    pk: int
    tag: str
    hand: str
    draw_from_m: float
    draw_to_m: float
    weight_from_n: float
    weight_to_n: float
    used: float

    def suits(self, booking: GuestBooking) -> bool:
        """Whether it is the bow, the hand, the draw length and the weight that a booking asks for."""
        if booking.bow not in (None, self.tag) or booking.hand not in (None, self.hand):
            return False
        if booking.draw_length_m is not None and not self.draw_from_m <= booking.draw_length_m <= self.draw_to_m:
            return False
        low, high = booking.peak_weight_n or (0.0, float("inf"))
        return low <= self.weight_to_n and self.weight_from_n <= high


class Pool:
    """The complete bows of a site in service. `offer`: those that fit a booking, the preferred ones first."""

    def __init__(self, site: Site, now: datetime) -> None:
        self.site, self.now = site, now
        self.today: date = day_of(now, site.time_zone)
        oldest_first = site.wear_choice == WearChoice.OLDEST_FIRST
        rows = GuestBow.objects.filter(site=site, complete=True).order_by("-used" if oldest_first else "used", "pk")
        jobs, orders = planned_work(site, self.today)
        planned = set(jobs.values_list("bow_id", flat=True)) | set(orders.values_list("bow_id", flat=True))
        shapes = (_Shape(*row) for row in rows.values_list("pk", "bow__tag", *_Shape._fields[2:]))
        # Who is worn out already fits nobody, unless the bench renews it.
        self._shapes = [one for one in shapes if one.used <= WORN_OUT or one.pk in planned]
        self._checked: dict[int, Candidate | None] = {}
        self.ids: dict[str, int] = {one.tag: one.pk for one in self._shapes}

    def offer(self, booking: GuestBooking) -> Iterator[HireBow]:
        """The bows that fit a booking by the full check, other bookings left aside."""
        for one in self._shapes:
            if not one.suits(booking):
                continue
            if one.pk not in self._checked:
                self._check(booking, one.pk)
            found = self._checked[one.pk]
            if found is not None and fit_of(booking, found.hire, self.today).fits:
                yield found.hire

    def _check(self, booking: GuestBooking, begin: int) -> None:
        """This bow and the next ones of the booking's shape that nobody asked for yet."""
        wanted: list[int] = []
        for shape in self._shapes:
            if shape.pk == begin or (wanted and shape.pk not in self._checked and shape.suits(booking)):
                wanted.append(shape.pk)
            if len(wanted) == AT_A_TIME:
                break
        found = {one.bow.pk: one for one in candidates(self.site, self.now, wanted)}
        for pk in wanted:
            one = found.get(pk)
            self._checked[pk] = one if one is not None and one.hire.ready_from is not None else None
