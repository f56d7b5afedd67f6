"""Small random shops in which every kind of limit bites, from one random generator (hypothesis can shrink it)."""

from random import Random

from service.plan.problem import (
    Arrival,
    Booking,
    Need,
    NeedKind,
    PartStock,
    PartUse,
    PlanProblem,
    PublishedJob,
    SolveLimits,
    Technician,
)
from tests.plan.flat_costs import early_by_day, late_by_day
from tests.plan.shop import day, problem

DAYS = 7
EXACT = SolveLimits(effort=30.0, gap=0.0)


def random_shop(rng: Random, most_needs: int = 5, limits: SolveLimits = EXACT) -> PlanProblem:
    needs = [_need(rng, n) for n in range(rng.randint(2, most_needs))]
    if len(needs) > 1 and rng.random() < 0.5:
        _tie_together(rng, needs)
    people = _people(rng)
    return problem(
        needs,
        technicians=people,
        press_visits=tuple(rng.choice((0, 1, 2, 2)) for _ in range(DAYS)),
        bookings=_bookings(rng, needs),
        stock=(PartStock("K8", rng.randint(0, 2), (Arrival(day(rng.randint(1, 6)), 1),)),),
        published=_published(rng, needs, people),
        closed=frozenset(day(d) for d in range(DAYS) if rng.random() < 0.08),
        labour_per_hour=rng.choice((0.0, 30.0, 36.5)),
        limits=limits,
    )


def _people(rng: Random) -> tuple[Technician, ...]:
    skills = (frozenset({"cords", "check"}), frozenset({"check"}))
    return tuple(
        Technician(f"T{n}", skills[n], tuple(rng.choice((0, 60, 90, 120)) for _ in range(DAYS)))
        for n in range(rng.choice((0, 1, 1, 1, 2, 2, 2, 2)))
    )


def _need(rng: Random, number: int) -> Need:
    first = rng.randint(-2, 3)
    due = first + rng.randint(0, 3)
    late = late_by_day(due, rng.choice((0.0, 1.5, 4.0, 9.99)), DAYS)
    return Need(
        id=f"n{number}",
        bow=rng.choice(("bow 1", "bow 2")),
        kind=NeedKind.REQUESTED,
        skill=rng.choice(("cords", "check", "check")),
        bench_min=rng.choice((20, 30, 45)),
        setup_min=rng.choice((0, 10, 15)),
        needs_press=rng.random() < 0.4,
        earliest=day(first),
        due=day(due),
        early_cost=early_by_day(due, rng.choice((0.0, 0.4, 1.25)), DAYS),
        late_cost=late,
        unplaced_cost=late[-1] + rng.choice((0.0, 3.0, 20.0)),
        hard_latest=day(first + rng.randint(0, 4)) if rng.random() < 0.5 else None,
        parts=(PartUse("K8", 1),) if rng.random() < 0.3 else (),
        held=rng.random() < 0.15,
    )


def _tie_together(rng: Random, needs: list[Need]) -> None:
    """The first need cancels the second or is followed by it (or, of three, both)."""
    fields = [vars(need) | {"bow": needs[0].bow} for need in needs[:3]]
    if rng.random() < 0.6:
        fields[0] = fields[0] | {"cancels": (needs[1].id,)}
    else:
        fields[1] = fields[1] | _following(rng, needs[0])
    if len(fields) == 3 and rng.random() < 0.5:
        fields[2] = fields[2] | _following(rng, needs[0])
    needs[: len(fields)] = [Need(**values) for values in fields]


def _following(rng: Random, leader: Need) -> dict[str, object]:
    first = rng.randint(0, 2)
    return {
        "follows": leader.id,
        "after_days": (first, first + rng.randint(0, 2)),
        "wait_cost_per_day": rng.choice((0.0, 2.5)),
        "held": False,
        "hard_latest": None,
        "earliest": day(0),
    }


def _bookings(rng: Random, needs: list[Need]) -> tuple[Booking, ...]:
    found = []
    for number, bow in enumerate(sorted({need.bow for need in needs})):
        if rng.random() < 0.5:
            first = rng.randint(0, 5)
            away = rng.random() < 0.5
            found.append(Booking(f"G{number}", bow, day(first), day(first + rng.randint(0, 2)), 3.0, away))
    return tuple(found)


def _published(rng: Random, needs: list[Need], people: tuple[Technician, ...]) -> tuple[PublishedJob, ...]:
    free = [need for need in needs if need.follows is None]
    if not people or rng.random() < 0.6:
        return ()
    chosen = rng.sample(free, rng.randint(1, len(free)))
    return tuple(PublishedJob(n.id, day(rng.randint(-1, 6)), rng.choice(people).id) for n in chosen)
