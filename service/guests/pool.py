"""The bows of a site for an assignment: in the order in which wear is spread, checked in full as they are asked for."""

from collections.abc import Iterator
from datetime import date, datetime

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


class Pool:
    """The complete bows of a site in service. `offer`: those that fit a booking, the preferred ones first."""

    def __init__(self, site: Site, now: datetime) -> None:
        self.site, self.now = site, now
        self.today: date = day_of(now, site.time_zone)
        oldest_first = site.wear_choice == WearChoice.OLDEST_FIRST
        rows = GuestBow.objects.filter(site=site, complete=True).order_by("-used" if oldest_first else "used", "pk")
        jobs, orders = planned_work(site, self.today)
        planned = set(jobs.values_list("bow_id", flat=True)) | set(orders.values_list("bow_id", flat=True))
        shape = ("pk", "bow__tag", "hand", "draw_from_m", "draw_to_m", "weight_from_n", "weight_to_n", "used")
        # Who is worn out already fits nobody, unless the bench renews it.
        self._rows = [row for row in rows.values_list(*shape) if row[7] <= WORN_OUT or row[0] in planned]
        self._checked: dict[int, Candidate | None] = {}
        self.ids: dict[str, int] = {row[1]: row[0] for row in self._rows}

    def offer(self, booking: GuestBooking) -> Iterator[HireBow]:
        """The bows that fit a booking by the full check, other bookings left aside."""
        for row in self._rows:
            if not _has_its_shape(booking, row):
                continue
            if row[0] not in self._checked:
                self._check(booking, row[0])
            found = self._checked[row[0]]
            if found is not None and fit_of(booking, found.hire, self.today).fits:
                yield found.hire

    def _check(self, booking: GuestBooking, begin: int) -> None:
        """This bow and the next ones of the booking's shape that nobody asked for yet."""
        wanted: list[int] = []
        for row in self._rows:
            if row[0] == begin or (wanted and row[0] not in self._checked and _has_its_shape(booking, row)):
                wanted.append(row[0])
            if len(wanted) == AT_A_TIME:
                break
        found = {one.bow.pk: one for one in candidates(self.site, self.now, wanted)}
        for pk in wanted:
            one = found.get(pk)
            self._checked[pk] = one if one is not None and one.hire.ready_from is not None else None


def _has_its_shape(booking: GuestBooking, row: tuple[object, ...]) -> bool:
    _pk, tag, hand, draw_from, draw_to, weight_from, weight_to, _used = row
    if booking.bow not in (None, tag) or booking.hand not in (None, hand):
        return False
    if booking.draw_length_m is not None and not draw_from <= booking.draw_length_m <= draw_to:  # type: ignore[operator]
        return False
    low, high = booking.peak_weight_n or (0.0, float("inf"))
    return low <= weight_to and weight_from <= high  # type: ignore[operator]
