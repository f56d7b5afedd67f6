"""The plan's cost by name, in money, so that nothing is weighed by taste (planning.md).

One function per cost; each returns whole cents. `cost_of` adds them up. Left out on purpose, because no plan
can change them: lateness before the plan begins, and labour that every plan would spend.
"""

from collections import defaultdict
from dataclasses import dataclass

from service.plan.costs import from_cents
from service.plan.frame import Frame, Spots
from service.plan.state import State, state_of


@dataclass(frozen=True)
class CostSheet:
    """Cents by cause; `total` is what the solver minimises."""

    early: int
    late: int
    bookings: int
    labour: int
    waiting: int
    left_out: int

    @property
    def total(self) -> int:
        return self.early + self.late + self.bookings + self.labour + self.waiting + self.left_out

    def in_money(self) -> dict[str, float]:
        """Amounts in the site's currency by the names that people read."""
        return {
            "life thrown away by doing it early": from_cents(self.early),
            "risk and lost hire by doing it late": from_cents(self.late),
            "bookings broken": from_cents(self.bookings),
            "labour that sharing or cancelling saves": from_cents(self.labour),
            "waiting for the settle-in re-check": from_cents(self.waiting),
            "left out of the plan": from_cents(self.left_out),
        }


def cost_of(frame: Frame, spots: Spots, bow: str | None = None) -> CostSheet:
    """Cost of the whole plan, or of one bow's part of it: no cost is shared between bows."""
    state = state_of(frame, spots, None if bow is None else frame.on_bow[bow])
    return CostSheet(
        early=early_cost(frame, state),
        late=late_cost(frame, state),
        bookings=booking_cost(frame, state),
        labour=labour_cost(frame, state),
        waiting=waiting_cost(frame, state),
        left_out=left_out_cost(frame, state),
    )


def early_cost(frame: Frame, state: State) -> int:
    """Life of the set that is thrown away; a cancelled need throws none away."""
    return sum(frame.day_cost[n][day] - frame.late_cost[n][day] for n, (day, _) in state.spots.items())


def late_cost(frame: Frame, state: State) -> int:
    """Risk, held rental days and out-of-tolerance hire; a cancelled need runs its risk until it is cancelled."""
    placed = sum(frame.late_cost[n][day] for n, (day, _) in state.spots.items())
    cancelled = sum(frame.late_cost[c][state.spots[by][0]] for c, by in state.cancelled.items())
    return placed + cancelled


def booking_cost(frame: Frame, state: State) -> int:
    """Each booking that any work breaks, once."""
    broken = {b for n, (day, _) in state.spots.items() for b in frame.booked.get((frame.needs[n].bow, day), ())}
    return sum(frame.booking_cost[b] for b in broken)


def labour_cost(frame: Frame, state: State) -> int:
    """Labour that sharing a set-up or cancelling a check can save."""
    setup: defaultdict[tuple[str, int, int], int] = defaultdict(int)
    for need, spot in state.spots.items():
        visit = (frame.needs[need].bow, *spot)
        setup[visit] = max(setup[visit], frame.avoidable_setup_labour(need, frame.needs[need].setup_min))
    return sum(setup.values()) + sum(frame.avoidable_bench_labour(n) for n in state.spots)


def waiting_cost(frame: Frame, state: State) -> int:
    """Days inside the horizon on which a new set waits for its settle-in re-check."""
    total = 0
    for follower in state.needs:
        leader = frame.leader[follower]
        if leader is None or leader not in state.spots:
            continue
        day = state.spots[follower][0] if follower in state.spots else None
        total += frame.wait_cost[follower] * frame.wait_days(follower, state.spots[leader][0], day)
    return total


def left_out_cost(frame: Frame, state: State) -> int:
    """Needs that this plan leaves undone (not those cancelled, not called for, or of the next plan)."""
    return sum(frame.put_off_cost(need) for need in state.left_out)
