"""From when to when each bow of a site may go out, and why not outside of that: the table "May it go out?", ahead.

What the bench is planned to do counts as done from the day after; the answer at hand-out is the verdict of that day.
Where something is missing that the answer hangs on, the bow has no ready day at all, and the reason says what it is.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from fleet import lookups
from fleet.models import Bow, Hire, Site
from fleet.vocabulary import BowState
from service.instants import day_of
from service.models import OPEN_ORDER, Need, NeedKind, WorkOrder
from service.planning.problem import CANCELS
from service.said import SEMICOLON, joined, say
from service.stock.shelf import saved_plan
from service.verdicts import verdicts_of
from service.wording import named

# Work after which a bow goes out as a matter of course. What an incident or a notice finds, nobody knows beforehand.
ROUTINE = frozenset({NeedKind.REPLACEMENT, NeedKind.INSPECTION, NeedKind.TIMING_CHECK, NeedKind.SETTLE_IN})
ONE_DAY = timedelta(days=1)


@dataclass
class Readiness:
    """Ready from `first` (None: no day in sight) to `last` (None: nothing ends it), but not on the days `busy`.

    `before`, `after`: why it is not ready earlier and later. `needs_bench`: its ready days rest on planned work.
    `new_set_on`: the bench day of its planned replacement.
    """

    first: date | None
    last: date | None = None
    busy: list[tuple[date, date]] = field(default_factory=list)
    before: list[str] = field(default_factory=list)
    after: str = ""
    needs_bench: date | None = None
    new_set_on: date | None = None

    def never(self, why: str) -> None:
        """Nothing says when it will be ready."""
        self.first = None
        self.before.append(why)

    def not_before(self, day: date, why: str) -> None:
        """Not ready before a day."""
        if self.first is not None and day > self.first:
            self.first = day
            self.before.append(why)

    def not_after(self, day: date, why: str) -> None:
        """Not ready after a day."""
        if self.last is None or day < self.last:
            self.last, self.after = day, why


def readiness_of(site: Site, bows: Sequence[Bow], now: datetime) -> dict[int, Readiness]:
    """The readiness of each bow by its id, from what is saved."""
    today = day_of(now, site.time_zone)
    verdicts = verdicts_of(list(bows), now)
    states = dict(lookups.with_state(Bow.objects.filter(pk__in=[bow.pk for bow in bows])).values_list("pk", "state"))
    needs: dict[int, list[Need]] = defaultdict(list)
    for need in Need.objects.filter(bow__in=bows):
        needs[need.bow_id].append(need)
    planned, back = _bench_days(site, bows, today), _back_on(bows, today, site.time_zone)
    found = {}
    for bow in bows:
        ready = found[bow.pk] = Readiness(today)
        _where_it_is(ready, states[bow.pk], back.get(bow.pk), planned.get(bow.pk))
        days = _with_pointless(planned.get(bow.pk, {}))
        for need in needs[bow.pk]:
            _weigh(ready, need, days.get(need.kind), site, today)
        ready.busy += [(day, day) for day in sorted(set(days.values()))]
        verdict = verdicts[bow.pk]
        # Whatever else holds it today (a cord that the book lacks) has no day.
        if not verdict.may_go and ready.first is not None and ready.first <= today:
            ready.never(joined(SEMICOLON, verdict.because))
    return found


def _with_pointless(days: dict[str, date]) -> dict[str, date]:
    """Bench days by kind, a check that planned work makes pointless counting as done with that work."""
    pointless = {other: day for kind, day in days.items() for other in CANCELS.get(kind, ())}
    return pointless | days


def _where_it_is(ready: Readiness, state: str, back: date | None, days: dict[str, date] | None) -> None:
    if state == BowState.OUT:
        if back is None:
            ready.never(say("out with a guest without a booking that says until when"))
        else:
            ready.not_before(back + ONE_DAY, say("out with a guest until %(day)s", day=back))
    elif state == BowState.ON_BENCH and not days:
        ready.never(say("on the bench"))


def _weigh(ready: Readiness, need: Need, done_on: date | None, site: Site, today: date) -> None:
    """What one need means: until when the bow may go out with it open, and from when again once it is done."""
    last = _last_day(need, site, today)
    if last is None:
        return
    if done_on is None or need.kind not in ROUTINE:
        if last < today:
            ready.never(need.reason)
        else:
            why = say(
                "%(need)s is due on %(day)s and has no bench day: %(reason)s",
                need=named(NeedKind(need.kind).label),
                day=last,
                reason=need.reason,
            )
            ready.not_after(last, why)
        return
    ready.needs_bench = max(done_on, ready.needs_bench or done_on)
    if need.kind == NeedKind.REPLACEMENT:
        ready.new_set_on = done_on
    if last < today:
        why = say("%(reason)s; the bench has it planned for %(day)s", reason=need.reason, day=done_on)
        ready.not_before(done_on + ONE_DAY, why)
    elif done_on > last:
        ready.busy.append((last + ONE_DAY, done_on))


def _last_day(need: Need, site: Site, today: date) -> date | None:
    """The last day on which the bow may go out with this need open; None: it never stops it."""
    if need.holds:
        return today - ONE_DAY
    if need.kind == NeedKind.TIMING_CHECK:
        return need.due_on + timedelta(days=site.timing_grace_days)
    if need.kind == NeedKind.SETTLE_IN:
        return None if site.guests_shoot_in else today - ONE_DAY
    return need.latest_on


def _bench_days(site: Site, bows: Iterable[Bow], today: date) -> dict[int, dict[str, date]]:
    """Bow -> kind of need -> the day on which the bench does it: by an open order, else by the saved plan."""
    found: dict[int, dict[str, date]] = defaultdict(dict)
    plan = saved_plan(site, today)
    ids = {bow.pk for bow in bows}
    if plan is not None:
        for job in plan.jobs.filter(day__gte=today, bow__in=ids).order_by("-day"):
            for entry in job.needs:
                found[job.bow_id][entry["kind"]] = job.day
    open_orders = WorkOrder.objects.filter(bow__in=ids, status__in=OPEN_ORDER)
    for order in open_orders.prefetch_related("needs"):
        for one in order.needs.all():
            found[order.bow_id][one.kind] = max(today, order.day)
    return found


def _back_on(bows: Iterable[Bow], today: date, zone: str) -> dict[int, date | None]:
    """Bows that are out, and the last day of their booking."""
    hires = Hire.objects.filter(bow__in=[bow.pk for bow in bows], back_at=None).select_related("booking")
    return {hire.bow_id: None if hire.booking is None else max(today, day_of(hire.booking.end, zone)) for hire in hires}
