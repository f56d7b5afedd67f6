"""The bench's calendar of a site, worked out from what people were told: published plans and issued orders.

Both are kept for good, so the calendar is a replay of them in the order in which they happened: the first telling makes
an entry and its UID, each later one that differs raises its sequence. Nothing is stored, and nothing can drift apart.
No guest and no free text is in it: what a bow has is told by kinds of work alone.
"""

from collections import defaultdict
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from fleet.models import Person, Site
from service.models import OrderStatus, Plan, WorkOrder

# Calendars keep what they were once given; what is older than this is no longer sent.
DAYS_BACK = 45
REPLAYED_DAYS = 400


@dataclass(frozen=True)
class Told:
    """What an entry says: changed means told anew."""

    day: date
    technician: str
    minutes: int
    minutes_before: int
    kinds: tuple[str, ...]
    order: str = ""
    cancelled: bool = False


@dataclass
class Entry:
    """One job at the bench as calendars know it. `closed`: it is done, or struck out; the bow's next job is another.

    `told_to`: user names of all who were ever told of it.
    """

    uid: str
    bow: str
    told: Told
    made_at: datetime
    changed_at: datetime
    sequence: int = 0
    closed: bool = False
    told_to: set[str] = field(default_factory=set)

    def tell(self, told: Told, at: datetime) -> None:
        """Say something else from now on; saying the same again changes nothing."""
        if told != self.told:
            self.told, self.changed_at, self.sequence = told, at, self.sequence + 1
        self.told_to.add(told.technician)


@dataclass(frozen=True)
class _Happening:
    at: datetime
    place: int
    number: int
    """Its row: what happened at one instant is told in the order in which it was written."""
    plan: Plan | None = None
    order: WorkOrder | None = None


def entries_of(site: Site, today: date) -> list[Entry]:
    """Every entry of a site from DAYS_BACK days ago on, by day, technician and place in the day."""
    replay = _Replay(site)
    for happening in _happenings(site, today):
        if happening.plan is not None:
            replay.publish(happening.plan)
        elif happening.order is not None:
            replay.order(happening.order, issued=happening.place == _ISSUED)
    first = today - timedelta(days=DAYS_BACK)
    found = [entry for some in replay.by_bow.values() for entry in some if entry.told.day >= first]
    return sorted(found, key=lambda one: (one.told.day, one.told.technician, one.told.minutes_before, one.uid))


def for_technician(entries: list[Entry], person: Person) -> list[Entry]:
    """A technician's own entries; a job that went to somebody else is struck out of their calendar."""
    mine = [entry for entry in entries if person.username in entry.told_to]
    return [
        entry
        if entry.told.technician == person.username
        else replace(entry, told=replace(entry.told, cancelled=True, technician=person.username))
        for entry in mine
    ]


_PUBLISHED, _ISSUED, _ENDED = 0, 1, 2


def _happenings(site: Site, today: date) -> list[_Happening]:
    since = today - timedelta(days=REPLAYED_DAYS)
    plans = Plan.objects.filter(site=site, first_day__gte=since).exclude(published_at=None)
    orders = WorkOrder.objects.filter(site=site, day__gte=since).select_related("bow", "technician")
    found = [
        _Happening(plan.published_at, _PUBLISHED, plan.pk, plan=plan)
        for plan in plans.prefetch_related("jobs__bow", "jobs__technician")
        if plan.published_at is not None
    ]
    for order in orders.prefetch_related("needs"):
        found.append(_Happening(order.issued_at, _ISSUED, order.pk, order=order))
        if order.closed_at is not None:
            found.append(_Happening(order.closed_at, _ENDED, order.pk, order=order))
    return sorted(found, key=lambda one: (one.at, one.place, one.number))


def _first_gap(there: list[Told], start: int, minutes: int) -> int:
    """The first minute of the bench day from `start` on with so many minutes free; nobody does two bows at a time."""
    for one in sorted(there, key=lambda told: told.minutes_before):
        if start < one.minutes_before + one.minutes and one.minutes_before < start + minutes:
            start = one.minutes_before + one.minutes
    return start


class _Replay:
    """Entries by bow, as they stand after what has happened so far."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.by_bow: dict[int, list[Entry]] = defaultdict(list)

    def publish(self, plan: Plan) -> None:
        """A plan was published: its days now read as it says."""
        at = plan.published_at or plan.made_at
        free_from: dict[tuple[date, str], int] = defaultdict(int)
        seen: set[str] = set()
        for job in sorted(plan.jobs.all(), key=lambda one: (one.day, one.technician_id, one.place_in_day, one.pk)):
            kinds = tuple(sorted({entry["kind"] for entry in job.needs}))
            entry = self._match(job.bow_id, set(kinds), seen)
            if entry is not None and entry.told.order:
                # An issued order stays where it is until the order itself is changed.
                entry.tell(entry.told, at)
                seen.add(entry.uid)
                continue
            bench = (job.day, job.technician.username)
            start = _first_gap(self._orders_on(*bench), free_from[bench], job.minutes)
            free_from[bench] = start + job.minutes
            told = Told(*bench, job.minutes, start, kinds)
            if entry is None:
                entry = self._add(job.bow_id, f"job-{job.pk}", job.bow.tag, told, at)
            entry.tell(told, at)
            seen.add(entry.uid)
        last = plan.first_day + timedelta(days=plan.days - 1)
        for entry in (one for some in self.by_bow.values() for one in some):
            stands = entry.closed or entry.told.order or entry.uid in seen
            if not stands and plan.first_day <= entry.told.day <= last:
                self._strike_out(entry, at)

    def order(self, order: WorkOrder, *, issued: bool) -> None:
        """An order was issued, or it came to its end."""
        mine = [entry for entry in self.by_bow[order.bow_id] if entry.told.order == order.number]
        if not issued:
            for entry in mine:
                if order.status == OrderStatus.CANCELLED:
                    self._strike_out(entry, order.closed_at or order.issued_at)
                entry.closed = True
            return
        kinds = {need.kind for need in order.needs.all()}
        there = self._match(order.bow_id, kinds, set())
        technician = order.technician.username if order.technician else ""
        if there is not None and (there.told.day, there.told.technician) == (order.day, technician):
            before = there.told.minutes_before
        else:
            before = _first_gap(self._told_on(order.day, technician), 0, order.minutes)
        told = Told(order.day, technician, order.minutes, before, tuple(sorted(kinds)), order.number)
        if there is None:
            there = self._add(order.bow_id, f"order-{order.number}", order.bow.tag, told, order.issued_at)
        there.tell(told, order.issued_at)

    def _told_on(self, day: date, technician: str) -> list[Told]:
        """What stands on a technician's day so far, done or not."""
        told = [entry.told for some in self.by_bow.values() for entry in some]
        return [one for one in told if not one.cancelled and (one.day, one.technician) == (day, technician)]

    def _orders_on(self, day: date, technician: str) -> list[Told]:
        return [one for one in self._told_on(day, technician) if one.order]

    def _match(self, bow_id: int, kinds: set[str], seen: set[str]) -> Entry | None:
        """The open entry of a bow that is about the same work."""
        there = [one for one in self.by_bow[bow_id] if not one.closed and one.uid not in seen]
        return next((one for one in there if kinds & set(one.told.kinds)), None)

    def _add(self, bow_id: int, name: str, tag: str, told: Told, at: datetime) -> Entry:
        entry = Entry(f"{name}-{self.site.code}", tag, told, at, at)
        self.by_bow[bow_id].append(entry)
        return entry

    @staticmethod
    def _strike_out(entry: Entry, at: datetime) -> None:
        entry.tell(replace(entry.told, cancelled=True), at)
        entry.closed = True
