"""What a site's plan is made from: days, people, presses, bows, bookings, parts and needs.

Units: minutes (int) for bench time, the site's currency (float, major units) for money, calendar days for
time. Every dataclass is frozen and refuses input that it cannot plan with; `ProblemError` is a ValueError
whose text names the value, the allowed range, the unit and the next step.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from functools import cached_property

SHORTEST_HORIZON_DAYS = 7
LONGEST_HORIZON_DAYS = 90
MINUTES_IN_A_DAY = 24 * 60


class ProblemError(ValueError):
    """The plan's input cannot be planned with; the text says which value and what would do."""


class NeedKind(StrEnum):
    """What a bow needs; the trade's words (planning.md)."""

    TIMING_CHECK = "timing check"
    INSPECTION = "inspection"
    REPLACEMENT = "replacement"
    SETTLE_IN = "settle-in re-check"
    INCIDENT = "incident"
    NOTICE = "notice"
    TURNAROUND = "turnaround"
    WAX = "wax"
    REQUESTED = "requested"


@dataclass(frozen=True)
class Technician:
    """One person at the bench: `minutes[d]` is the bench time on day `d` of the horizon (0 when absent).

    `name`: what sentences call the person; the id where it is left out.
    """

    id: str
    skills: frozenset[str]
    minutes: tuple[int, ...]
    name: str = ""

    @property
    def called(self) -> str:
        """The person as sentences name them."""
        return self.name or self.id

    def __post_init__(self) -> None:
        for minutes in self.minutes:
            if not 0 <= minutes <= MINUTES_IN_A_DAY:
                raise ProblemError(
                    f"technician {self.id}: {minutes} bench minutes on a day; allowed 0 to {MINUTES_IN_A_DAY} "
                    "minutes. Correct the person's hours or absences."
                )


@dataclass(frozen=True)
class Booking:
    """Days first..last (both included) on which a bow is promised or out.

    `away`: the bow is not in the shop, so no work is possible. Otherwise the booking can be broken, once,
    for `cost` (the site's currency).
    """

    reference: str
    bow: str
    first: date
    last: date
    cost: float
    away: bool

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ProblemError(
                f"booking {self.reference}: ends {self.last} before it begins {self.first}. Swap the two dates."
            )
        _require_money(self.cost, f"booking {self.reference}: cost of breaking it")


@dataclass(frozen=True)
class PartUse:
    """How many cords of one cord spec a need uses up."""

    cord_spec: str
    count: int

    def __post_init__(self) -> None:
        if self.count < 1:
            raise ProblemError(
                f"cord spec {self.cord_spec}: use of {self.count} cords; at least 1. Leave the spec out if none."
            )


@dataclass(frozen=True)
class Arrival:
    """Cords on order: usable from `day` on, that day included."""

    day: date
    count: int

    def __post_init__(self) -> None:
        if self.count < 1:
            raise ProblemError(f"arrival on {self.day}: {self.count} cords; at least 1. Cancel the order instead.")


@dataclass(frozen=True)
class PartStock:
    """Cords of one cord spec: in hand on the plan's first morning, and those on order."""

    cord_spec: str
    on_hand: int
    arrivals: tuple[Arrival, ...] = ()
    lead_days: int = 0
    price: float = 0.0
    reorder_point: int = 0

    def __post_init__(self) -> None:
        for value, what in (
            (self.on_hand, "on hand"),
            (self.lead_days, "lead days"),
            (self.reorder_point, "reorder point"),
        ):
            if value < 0:
                raise ProblemError(
                    f"cord spec {self.cord_spec}: {what} is {value}; 0 or more. Count the stock and correct it."
                )
        _require_money(self.price, f"cord spec {self.cord_spec}: price")


@dataclass(frozen=True)
class Need:
    """One thing that a bow needs.

    bench_min       own bench minutes; setup_min set-up minutes, paid once per bow, day and technician (the
                    longest of the needs that share the visit)
    earliest, due   first day on which it may be done, and the day from which it counts as late
    hard_latest     last day allowed; already past on the plan's first day = overdue: the bow is held, the
                    need may go to any day and must not be skipped
    early_cost[d], late_cost[d]   money lost by doing it on day d (whole cost, not per day); late_cost never
                    falls; built with `costs`
    unplaced_cost   money lost by not doing it inside the horizon; at least late_cost of the last day
    held            the bow is held for it: it must be placed wherever that is possible
    cancels         needs of the same bow that are pointless once this one is done
    follows         this need arises only when that need is placed; then it belongs `after_days` (first, last)
                    days later, and each day of the horizon that it waits costs `wait_cost_per_day`
    name            what sentences call it; the id where it is left out
    """

    id: str
    bow: str
    kind: NeedKind
    skill: str
    bench_min: int
    setup_min: int
    needs_press: bool
    earliest: date
    due: date
    early_cost: tuple[float, ...]
    late_cost: tuple[float, ...]
    unplaced_cost: float
    hard_latest: date | None = None
    parts: tuple[PartUse, ...] = ()
    held: bool = False
    cancels: tuple[str, ...] = ()
    follows: str | None = None
    after_days: tuple[int, int] = (0, 0)
    wait_cost_per_day: float = 0.0
    name: str = ""

    @property
    def called(self) -> str:
        """The need as sentences name it."""
        return self.name or self.id

    def __post_init__(self) -> None:
        for minutes, what in ((self.bench_min, "bench"), (self.setup_min, "set-up")):
            if not 0 <= minutes <= MINUTES_IN_A_DAY:
                raise ProblemError(
                    f"need {self.id}: {minutes} {what} minutes; allowed 0 to {MINUTES_IN_A_DAY} minutes. "
                    "Correct the bench times of the house."
                )
        if self.hard_latest is not None and self.hard_latest < self.earliest:
            raise ProblemError(
                f"need {self.id}: latest day {self.hard_latest} is before its earliest day {self.earliest}. "
                "Move the earliest day forward."
            )
        first, last = self.after_days
        if not 0 <= first <= last:
            raise ProblemError(
                f"need {self.id}: after_days {first}..{last}; needs 0 <= first <= last, in days. Correct the "
                "house's settle-in setting."
            )
        self._require_costs()

    def _require_costs(self) -> None:
        for cost in (*self.early_cost, *self.late_cost, self.unplaced_cost, self.wait_cost_per_day):
            _require_money(cost, f"need {self.id}: a cost")
        if any(later < sooner for sooner, later in zip(self.late_cost, self.late_cost[1:], strict=False)):
            raise ProblemError(f"need {self.id}: late cost falls with time; it may only rise. Rebuild its costs.")
        if self.late_cost and self.unplaced_cost < self.late_cost[-1]:
            raise ProblemError(
                f"need {self.id}: unplaced cost {self.unplaced_cost:.2f} is below the late cost of the last day "
                f"{self.late_cost[-1]:.2f}; putting work off cannot be cheaper than doing it last. Raise it."
            )


@dataclass(frozen=True)
class PublishedJob:
    """A need that people have already been told: day and technician."""

    need: str
    day: date
    technician: str


@dataclass(frozen=True)
class SolveLimits:
    """When the solver stops. `effort` is CP-SAT's deterministic time (no wall clock), `gap` a fraction."""

    seed: int = 1
    effort: float = 12.0
    gap: float = 0.005

    def __post_init__(self) -> None:
        if not 0.0 <= self.gap < 1.0:
            raise ProblemError(f"gap {self.gap}; a fraction from 0 up to but not 1 (0.01 = 1 %).")
        if not self.effort >= 0.0:
            raise ProblemError(f"effort {self.effort}; 0 or more deterministic seconds (0 = first plan only).")


@dataclass(frozen=True)
class PlanProblem:
    """Everything that decides one site's plan. `days` are consecutive calendar days, 7 to 90 of them."""

    site: str
    currency: str
    days: tuple[date, ...]
    technicians: tuple[Technician, ...]
    press_visits: tuple[int, ...]
    needs: tuple[Need, ...]
    bookings: tuple[Booking, ...] = ()
    stock: tuple[PartStock, ...] = ()
    published: tuple[PublishedJob, ...] = ()
    closed: frozenset[date] = frozenset()
    labour_per_hour: float = 0.0
    limits: SolveLimits = field(default_factory=SolveLimits)

    def __post_init__(self) -> None:
        self._require_days()
        _require_money(self.labour_per_hour, f"site {self.site}: labour rate per hour")
        _require_unique((t.id for t in self.technicians), "technician")
        _require_unique((n.id for n in self.needs), "need")
        _require_unique((b.reference for b in self.bookings), "booking")
        _require_unique((s.cord_spec for s in self.stock), "cord spec in stock")
        _require_unique((p.need for p in self.published), "published job of need")
        for technician in self.technicians:
            self._require_length(len(technician.minutes), f"technician {technician.id}: minutes")
        self._require_length(len(self.press_visits), "press visits")
        if any(visits < 0 for visits in self.press_visits):
            raise ProblemError(f"press visits {min(self.press_visits)} on a day; 0 or more. Correct the presses.")
        for need in self.needs:
            self._require_length(len(need.early_cost), f"need {need.id}: early cost")
            self._require_length(len(need.late_cost), f"need {need.id}: late cost")
            self._require_links(need)
        self._require_published()

    @cached_property
    def need_by_id(self) -> dict[str, Need]:
        return {need.id: need for need in self.needs}

    @property
    def horizon(self) -> int:
        return len(self.days)

    def day_number(self, day: date) -> int:
        """Days since the plan's first day: negative before it, `horizon` or more after its end."""
        return (day - self.days[0]).days

    def is_overdue(self, need: Need) -> bool:
        """Its hard latest day was over before the plan begins."""
        return need.hard_latest is not None and need.hard_latest < self.days[0]

    def must_place(self, need: Need) -> bool:
        """The bow is held for it, or is to be held because the hard latest day is past."""
        return need.held or self.is_overdue(need)

    def window(self, need: Need) -> range:
        """Day numbers on which the need may be done; empty when none lies inside the horizon."""
        last = self.horizon - 1
        if need.hard_latest is not None and not self.is_overdue(need):
            last = min(last, self.day_number(need.hard_latest))
        return range(max(0, self.day_number(need.earliest)), last + 1)

    def _require_days(self) -> None:
        if not SHORTEST_HORIZON_DAYS <= len(self.days) <= LONGEST_HORIZON_DAYS:
            raise ProblemError(
                f"horizon of {len(self.days)} days; allowed {SHORTEST_HORIZON_DAYS} to {LONGEST_HORIZON_DAYS} days."
            )
        for today, tomorrow in zip(self.days, self.days[1:], strict=False):
            if tomorrow - today != timedelta(days=1):
                raise ProblemError(
                    f"day {tomorrow} follows {today}; days must be consecutive. List closed days in `closed`."
                )

    def _require_length(self, found: int, what: str) -> None:
        if found != self.horizon:
            raise ProblemError(f"{what}: {found} values for a horizon of {self.horizon} days; one per day.")

    def _require_links(self, need: Need) -> None:
        for other_id in need.cancels:
            other = self.need_by_id.get(other_id)
            if other is None or other.bow != need.bow or other is need or other.follows is not None:
                raise ProblemError(
                    f"need {need.id}: cancels {other_id}, which must be another need of bow {need.bow} that "
                    "follows none. Drop it from `cancels`."
                )
            if missing := set(other.cancels) - {need.id} - set(need.cancels):
                raise ProblemError(
                    f"need {need.id}: cancels {other_id} but not {', '.join(sorted(missing))}, which {other_id} "
                    "cancels. Add them to `cancels`."
                )
        if need.follows is None:
            return
        if need.held or need.hard_latest is not None:
            raise ProblemError(
                f"need {need.id}: follows {need.follows} and so cannot be held or have a latest day of its own; "
                "say when with `after_days`."
            )
        leader = self.need_by_id.get(need.follows)
        if leader is None or leader.bow != need.bow or leader is need or leader.follows is not None:
            raise ProblemError(
                f"need {need.id}: follows {need.follows}, which must be another need of bow {need.bow} that "
                "follows none itself. Plan it as a need of its own."
            )

    def _require_published(self) -> None:
        known = {technician.id for technician in self.technicians}
        for job in self.published:
            if job.need not in self.need_by_id:
                raise ProblemError(
                    f"published job of need {job.need}: no such need. Withdraw the job or bring the need back."
                )
            if job.technician not in known:
                raise ProblemError(
                    f"published job of need {job.need}: no technician {job.technician}. Keep people who have "
                    "published jobs in the problem, with 0 minutes."
                )


def _require_money(amount: float, what: str) -> None:
    if not (math.isfinite(amount) and amount >= 0.0):
        raise ProblemError(f"{what} is {amount}; an amount of 0 or more in the site's currency.")


def _require_unique(ids: Iterable[str], what: str) -> None:
    seen: set[str] = set()
    for one in ids:
        if one in seen:
            raise ProblemError(f"{what} {one} is there twice; each once. Drop the duplicate.")
        seen.add(one)
