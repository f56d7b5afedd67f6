"""The bookings of the coming days, each with its bow or the one that is proposed, or why it goes without."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from fleet.models import Booking, Bow, Site
from service.guests.hire_bows import Candidate, candidates, guest_booking
from service.guests.judged import misfit_in_words
from service.guests.proposals import (
    NEEDS,
    ON_THE_SPOT,
    SHOWN_DAYS,
    WORKER_IS_AWAY,
    Line,
    Proposed,
    ahead,
    asked_for,
    facts_now,
    last_proposed,
    out_now,
    work_out,
)
from service.instants import day_of
from service.plan.guests import fit_of
from service.said import SEMICOLON, joined, say


@dataclass(frozen=True)
class BookingLine:
    """One booking ahead: the bow it has or would get, or why it goes without. `out`: the bow is with the guest.

    `is_open`: it came in, or its bow dropped out, since all was worked out, and waits to be worked out anew.
    """

    booking: Booking
    promised: Bow | None
    proposed: Bow | None
    without: str
    out: bool
    promise_breaks: str = ""
    is_open: bool = False


@dataclass(frozen=True)
class GuestsAhead:
    """Bookings of the coming days: `lines` of those shown, out of `count`.

    `without`, `waiting`: how many go without a bow, and how many wait to be worked out. `most_served`: proven that no
    assignment serves more of them. `made_at`: when it was worked out.
    """

    lines: tuple[BookingLine, ...]
    count: int
    without: int
    waiting: int
    most_served: bool
    made_at: datetime


@dataclass(frozen=True)
class _Ahead:
    """Bookings ahead by id, soonest first: what each asks for, its begin and end and its promised bow.

    `out`: those whose bow is with the guest. `taken`: bow id -> the bookings that it is promised to.
    """

    asked: dict[int, str]
    hours: dict[int, tuple[datetime, datetime]]
    promised: dict[int, int | None]
    out: frozenset[int]
    taken: dict[int, list[int]]

    @property
    def waiting(self) -> list[int]:
        return [pk for pk in self.asked if pk not in self.out]

    def is_taken(self, bow: int, pk: int) -> bool:
        """Whether a bow is promised to another booking at the time of this one."""
        (begin, end), others = self.hours[pk], self.taken.get(bow, [])
        return any(self.hours[one][0] < end and begin < self.hours[one][1] for one in others if one != pk)


def guests_ahead(site: Site, now: datetime, days: int = SHOWN_DAYS, shown: slice = slice(None)) -> GuestsAhead:
    """The bookings of the coming days with an assignment that leaves nobody without if any assignment does so.

    A promised bow stays with its booking; one that does not fit any more is said, and no other bow is put in its place.
    Only the lines that are shown are made, and each bow on them is checked now.
    """
    there = _ahead(site, now, days)
    kept = last_proposed(site)
    if kept is None or _is_due(site, there, kept, now):
        kept = work_out(site, now)
    lines = _lines(site, there, kept, now, shown)
    if _few(there) and kept.made_at != now and any(one.is_open for one in lines):
        kept = work_out(site, now)
        lines = _lines(site, there, kept, now, shown)
    known = {one.booking.pk: one for one in lines}
    without = [pk for pk in there.waiting if _goes_without(pk, known, there, kept)]
    waiting = {*_open(there, kept), *(one.booking.pk for one in lines if one.is_open)}
    same = not waiting and all(pk in there.asked for pk in kept.lines)
    return GuestsAhead(
        lines, len(there.asked), len(without), len(waiting), (kept.most_served and same) or not without, kept.made_at
    )


def _ahead(site: Site, now: datetime, days: int) -> _Ahead:
    rows = list(ahead(site, now, days).values_list("pk", "bow", *NEEDS))
    out = out_now(site)
    taken: dict[int, list[int]] = defaultdict(list)
    for row in rows:
        if row[1] is not None:
            taken[row[1]].append(row[0])
    return _Ahead(
        {row[0]: asked_for(row[2:]) for row in rows},
        {row[0]: (row[2], row[3]) for row in rows},
        {row[0]: row[1] for row in rows},
        out,
        taken,
    )


def _few(there: _Ahead) -> bool:
    return len(there.waiting) <= ON_THE_SPOT


def _is_due(site: Site, there: _Ahead, kept: Proposed, now: datetime) -> bool:
    """Whether the page is to work it out itself: few bookings at once, many only where no worker does."""
    if not _few(there) and now - kept.made_at < WORKER_IS_AWAY:
        return False
    if _open(there, kept):
        return True
    facts = facts_now(site, now)
    settled = all(line.bow is not None for line in kept.lines.values()) and now - kept.made_at < WORKER_IS_AWAY
    return kept.made_from != facts and not (settled and kept.choice == site.wear_choice)


def _open(there: _Ahead, kept: Proposed) -> list[int]:
    """Bookings without a promised bow that came in or changed since, or whose proposed bow was promised to another."""
    found = []
    for pk in there.waiting:
        line = _kept_line(there, kept, pk)
        if there.promised[pk] is None and (line is None or (line.bow is not None and there.is_taken(line.bow, pk))):
            found.append(pk)
    return found


def _kept_line(there: _Ahead, kept: Proposed, pk: int) -> Line | None:
    line = kept.lines.get(pk)
    return line if line is not None and line.asked == there.asked[pk] else None


def _goes_without(pk: int, known: Mapping[int, BookingLine], there: _Ahead, kept: Proposed) -> bool:
    if pk in known:
        return bool(known[pk].without or known[pk].promise_breaks)
    line = _kept_line(there, kept, pk)
    return line is not None and line.bow is None


def _lines(site: Site, there: _Ahead, kept: Proposed, now: datetime, shown: slice) -> tuple[BookingLine, ...]:
    ids = list(there.asked)[shown]
    bookings = Booking.objects.filter(pk__in=ids).select_related("bow", "site", "guest").order_by("start", "reference")
    kept_lines = {pk: _kept_line(there, kept, pk) for pk in ids}
    bow_of = {pk: there.promised[pk] or (line.bow if line else None) for pk, line in kept_lines.items()}
    wanted = {bow for pk, bow in bow_of.items() if bow is not None and pk not in there.out}
    bows = {one.bow.pk: one for one in candidates(site, now, wanted)}
    today, found = day_of(now, site.time_zone), []
    for one in bookings:
        bow_id, line = bow_of[one.pk], kept_lines[one.pk]
        bow = bows.get(bow_id) if bow_id is not None else None
        if one.pk in there.out:
            found.append(BookingLine(one, one.bow, None, "", True))
        elif one.bow is not None:
            found.append(BookingLine(one, one.bow, None, "", False, _breaks(one, bow, line, today)))
        elif line is None or (bow_id is not None and not _still_fits(one, bow, there, today)):
            found.append(BookingLine(one, None, None, "", False, is_open=True))
        else:
            found.append(BookingLine(one, None, bow.bow if bow else None, line.without, False))
    return tuple(found)


def _breaks(booking: Booking, bow: Candidate | None, line: Line | None, today: date) -> str:
    """Why a promise cannot be kept as things stand; "" where it can."""
    if bow is None:
        return say("not a bow in service at this site any more")
    misfits = _misfits(booking, bow, today)
    return joined(SEMICOLON, misfits) if misfits else line.without if line is not None else ""


def _still_fits(booking: Booking, bow: Candidate | None, there: _Ahead, today: date) -> bool:
    return bow is not None and not _misfits(booking, bow, today) and not there.is_taken(bow.bow.pk, booking.pk)


def _misfits(booking: Booking, bow: Candidate, today: date) -> list[str]:
    asked = guest_booking(booking)
    return [misfit_in_words(misfit, bow, asked) for misfit in fit_of(asked, bow.hire, today).misfits]
