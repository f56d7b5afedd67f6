"""Large invented shops for the plan's benchmarks: seeded, with a stated load (bench minutes wanted / there).

Load counts the own and set-up minutes of every need, as if nothing were shared or cancelled; with `unavoidable`
it leaves out the checks that a replacement makes pointless, which makes the same figure a much fuller bench.
"""

from datetime import date, timedelta

import numpy as np

from service.plan.problem import (
    Arrival,
    Booking,
    Need,
    NeedKind,
    PartStock,
    PartUse,
    PlanProblem,
    SolveLimits,
    Technician,
)
from tests.plan.flat_costs import early_by_day, late_by_day

MONDAY = date(2026, 3, 2)
MINUTES = {NeedKind.TIMING_CHECK: 15, NeedKind.INSPECTION: 20, NeedKind.REPLACEMENT: 45, NeedKind.WAX: 10}
LATE_PER_DAY = {
    NeedKind.TIMING_CHECK: 4.0,
    NeedKind.INSPECTION: 9.0,
    NeedKind.REPLACEMENT: 22.0,
    NeedKind.WAX: 0.6,
}
EARLY_PER_DAY = {
    NeedKind.TIMING_CHECK: 0.4,
    NeedKind.INSPECTION: 0.5,
    NeedKind.REPLACEMENT: 1.1,
    NeedKind.WAX: 0.1,
}
SET_UP_MIN = 10
SPECS = ("K8", "K10", "K12", "K14")


def shop(
    needs: int,
    days: int,
    load: float,
    seed: int,
    limits: SolveLimits | None = None,
    unavoidable: bool = False,
) -> PlanProblem:
    """`needs` needs on about needs/3 bows, 6 open days a week, technicians enough for the load."""
    rng = np.random.default_rng(seed)
    wanted = [need for bow in range(needs // 3 + 1) for need in _needs_of(rng, f"B{bow:04d}", days)][:needs]
    kept = {need.id for need in wanted}
    wanted = [need for need in wanted if need.follows is None or need.follows in kept]
    wanted = [_only_known(need, kept) for need in wanted]
    closed = frozenset(MONDAY + timedelta(days=d) for d in range(days) if d % 7 == 6)
    pointless = {check for need in wanted for check in need.cancels if unavoidable}
    work = sum(need.bench_min + need.setup_min for need in wanted if need.id not in pointless)
    minutes = work / load / (days - len(closed))
    return PlanProblem(
        site="Tamarack Range",
        currency="USD",
        days=tuple(MONDAY + timedelta(days=d) for d in range(days)),
        technicians=_technicians(minutes, days),
        press_visits=(max(4, round(minutes / 45)),) * days,
        needs=tuple(wanted),
        bookings=tuple(_bookings(rng, needs // 3 + 1, days)),
        stock=tuple(_stock(rng, wanted, days)),
        closed=closed,
        labour_per_hour=36.0,
        limits=limits or SolveLimits(),
    )


def _only_known(need: Need, kept: set[str]) -> Need:
    return Need(**{**vars(need), "cancels": tuple(c for c in need.cancels if c in kept)})


def _technicians(minutes: float, days: int) -> tuple[Technician, ...]:
    """Technicians of at most 7 h a day; one in three only checks and does not change cords."""
    count = max(2, int(minutes // 420) + 1)
    return tuple(
        Technician(
            f"T{n}",
            frozenset({"check"} if n % 3 == 2 else {"check", "cords"}),
            tuple(0 if d % 7 == 6 else round(minutes / count) for d in range(days)),
        )
        for n in range(count)
    )


def _needs_of(rng: np.random.Generator, bow: str, days: int) -> list[Need]:
    """Three needs a bow: often a replacement with the check it cancels and its settle-in check; else checks."""
    due = int(rng.integers(-2, days))
    if rng.random() < 0.35:
        replacement = _need(rng, bow, NeedKind.REPLACEMENT, due, days, cancels=(f"{bow}-c",))
        check = _need(rng, bow, NeedKind.TIMING_CHECK, due + int(rng.integers(-6, 7)), days, tag="c")
        return [replacement, check, _settle_in(replacement, days)]
    kinds = (NeedKind.TIMING_CHECK, NeedKind.INSPECTION, NeedKind.WAX)
    return [_need(rng, bow, kind, int(rng.integers(-2, days)), days, tag=kind.value) for kind in kinds]


def _need(
    rng: np.random.Generator,
    bow: str,
    kind: NeedKind,
    due: int,
    days: int,
    cancels: tuple[str, ...] = (),
    tag: str = "r",
) -> Need:
    scale = float(rng.uniform(0.5, 2.0))
    late = late_by_day(due, round(LATE_PER_DAY[kind] * scale, 2), days)
    cords = kind is NeedKind.REPLACEMENT
    hard = MONDAY + timedelta(days=due + 14) if kind in (NeedKind.REPLACEMENT, NeedKind.INSPECTION) else None
    return Need(
        id=f"{bow}-{tag}",
        bow=bow,
        kind=kind,
        skill="cords" if cords else "check",
        bench_min=MINUTES[kind],
        setup_min=0 if kind is NeedKind.WAX else SET_UP_MIN,
        needs_press=cords,
        earliest=MONDAY + timedelta(days=due - 14),
        due=MONDAY + timedelta(days=due),
        early_cost=early_by_day(due, round(EARLY_PER_DAY[kind] * scale, 2), days),
        late_cost=late,
        unplaced_cost=late[-1] + 7 * LATE_PER_DAY[kind] * scale,
        hard_latest=hard,
        parts=(PartUse(SPECS[int(rng.integers(len(SPECS)))], 1),) if cords else (),
        cancels=cancels,
    )


def _settle_in(replacement: Need, days: int) -> Need:
    none = (0.0,) * days
    return Need(
        id=f"{replacement.bow}-s",
        bow=replacement.bow,
        kind=NeedKind.SETTLE_IN,
        skill="check",
        bench_min=MINUTES[NeedKind.TIMING_CHECK],
        setup_min=SET_UP_MIN,
        needs_press=False,
        earliest=MONDAY,
        due=replacement.due,
        early_cost=none,
        late_cost=none,
        unplaced_cost=40.0,
        follows=replacement.id,
        after_days=(1, 5),
        wait_cost_per_day=3.0,
    )


def _bookings(rng: np.random.Generator, bows: int, days: int) -> list[Booking]:
    found = []
    for bow in range(bows):
        for n in range(int(rng.poisson(days / 21))):
            first = MONDAY + timedelta(days=int(rng.integers(days)))
            last = first + timedelta(days=int(rng.integers(1, 4)))
            away = bool(rng.random() < 0.6)
            found.append(Booking(f"G{bow}-{n}", f"B{bow:04d}", first, last, 0.0 if away else 35.0, away))
    return found


def _stock(rng: np.random.Generator, needs: list[Need], days: int) -> list[PartStock]:
    """A third of each spec's use in hand, the rest in three deliveries."""
    stock = []
    for spec in SPECS:
        used = sum(part.count for need in needs for part in need.parts if part.cord_spec == spec)
        share = used // 3 + 1
        stock.append(PartStock(spec, share, tuple(Arrival(MONDAY + timedelta(days=d), share) for d in (3, days // 2))))
    return stock
