"""A second opinion on plans, written from planning.md and the problem's own words only: it shares no code with
the planner beyond the problem's dataclasses. Checks every rule, prices a plan, and enumerates small problems.
"""

import itertools
from collections import defaultdict
from collections.abc import Iterator
from datetime import timedelta

from service.plan.outcome import Placement
from service.plan.problem import Need, PlanProblem

Where = dict[str, tuple[int, str]]
"""need -> (day number, technician)"""


def where_of(problem: PlanProblem, placements: tuple[Placement, ...]) -> Where:
    return {p.need: ((p.day - problem.days[0]).days, p.technician) for p in placements}


def breaches(problem: PlanProblem, where: Where) -> list[str]:
    """Every rule that the plan breaks, in words; empty when it keeps all."""
    needs = {n.id: n for n in problem.needs}
    people = {t.id: t for t in problem.technicians}
    found = []
    for name, (day, person) in where.items():
        need = needs[name]
        date = problem.days[0] + timedelta(days=day)
        published = any(job.need == name and job.day == date for job in problem.published)
        overdue = need.hard_latest is not None and need.hard_latest < problem.days[0]
        if not 0 <= day < len(problem.days):
            found.append(f"{name} outside the horizon")
            continue
        if need.skill not in people[person].skills:
            found.append(f"{name}: {person} lacks {need.skill}")
        if date in problem.closed:
            found.append(f"{name} on a closed day")
        if date < need.earliest and not published:
            found.append(f"{name} before its earliest day")
        if need.hard_latest is not None and date > need.hard_latest and not overdue:
            found.append(f"{name} after its latest day")
        if any(b.bow == need.bow and b.away and b.first <= date <= b.last for b in problem.bookings):
            found.append(f"{name} while its bow is out")
        if need.follows is not None:
            if need.follows not in where:
                found.append(f"{name} follows nothing")
            elif not need.after_days[0] <= day - where[need.follows][0] <= need.after_days[1]:
                found.append(f"{name} at the wrong distance")
    return found + _overfull(problem, needs, where)


def _visits(needs: dict[str, Need], where: Where) -> dict[tuple[str, int, str], list[Need]]:
    visits = defaultdict(list)
    for name, (day, person) in where.items():
        visits[needs[name].bow, day, person].append(needs[name])
    return visits


def _overfull(problem: PlanProblem, needs: dict[str, Need], where: Where) -> list[str]:
    found = []
    minutes: defaultdict[tuple[int, str], int] = defaultdict(int)
    presses: defaultdict[int, int] = defaultdict(int)
    for (_, day, person), together in _visits(needs, where).items():
        minutes[day, person] += sum(n.bench_min for n in together) + max(n.setup_min for n in together)
        presses[day] += any(n.needs_press for n in together)
    for (day, name), used in minutes.items():
        there = next(t.minutes[day] for t in problem.technicians if t.id == name)
        if used > there:
            found.append(f"{name} on day {day}: {used} of {there} minutes")
    for day, visits in presses.items():
        if visits > problem.press_visits[day]:
            found.append(f"day {day}: {visits} press visits of {problem.press_visits[day]}")
    return found + _short_of_parts(problem, needs, where)


def _short_of_parts(problem: PlanProblem, needs: dict[str, Need], where: Where) -> list[str]:
    found = []
    for spec in {use.cord_spec for n in problem.needs for use in n.parts}:
        stock = next((s for s in problem.stock if s.cord_spec == spec), None)
        for day, date in enumerate(problem.days):
            there = 0 if stock is None else stock.on_hand + sum(a.count for a in stock.arrivals if a.day <= date)
            used = sum(
                use.count
                for name, (done, _) in where.items()
                if done <= day
                for use in needs[name].parts
                if use.cord_spec == spec
            )
            if used > there:
                found.append(f"{spec}: {used} used of {there} by day {day}")
    return found


def cents(amount: float) -> int:
    return round(amount * 100)


def price(problem: PlanProblem, where: Where) -> int:
    """The plan's cost in cents, need by need, as problem.Need and objective describe it."""
    needs = {n.id: n for n in problem.needs}
    total = sum(_fate_price(problem, need, where) for need in problem.needs)
    for together in _visits(needs, where).values():
        if _has_mates(problem, together[0]):
            total += _labour(problem, max(n.setup_min for n in together))
    for booking in problem.bookings:
        inside = [
            n
            for n, (day, _) in where.items()
            if needs[n].bow == booking.bow and booking.first <= problem.days[day] <= booking.last
        ]
        if inside and not booking.away:
            total += cents(booking.cost)
    return total


def _labour(problem: PlanProblem, minutes: int) -> int:
    return cents(problem.labour_per_hour * minutes / 60)


def _has_mates(problem: PlanProblem, need: Need) -> bool:
    return sum(n.bow == need.bow for n in problem.needs) > 1


def _cancelling_days(problem: PlanProblem, need: Need, where: Where) -> list[int]:
    days = [where[n.id][0] for n in problem.needs if need.id in n.cancels and n.id in where]
    if need.hard_latest is None or need.hard_latest < problem.days[0]:
        return days
    return [day for day in days if problem.days[day] <= need.hard_latest]


def _fate_price(problem: PlanProblem, need: Need, where: Where) -> int:
    can_be_cancelled = any(need.id in n.cancels for n in problem.needs)
    bench = _labour(problem, need.bench_min) if can_be_cancelled else 0
    waited = 0
    horizon = len(problem.days)
    if need.follows is not None:
        if need.follows not in where:
            return 0
        ready = where[need.follows][0] + need.after_days[0]
        until = where[need.id][0] if need.id in where else horizon
        waited = cents(need.wait_cost_per_day) * max(0, until - ready)
    if need.id in where:
        day = where[need.id][0]
        return waited + bench + cents(need.early_cost[day]) + cents(need.late_cost[day])
    if cancelling := _cancelling_days(problem, need, where):
        return cents(need.late_cost[min(cancelling)])
    if need.follows is not None and where[need.follows][0] + need.after_days[1] >= horizon:
        return waited
    setup = _labour(problem, need.setup_min) if _has_mates(problem, need) else 0
    return waited + bench + setup + cents(need.unplaced_cost)


def rank(problem: PlanProblem, where: Where) -> tuple[int, int, int, int]:
    """What a plan is compared by: held needs left out, published days moved, technicians changed, cents.

    A published day on which nobody could do the job any more has to move and does not count.
    """
    left_out = moved = changed = 0
    for need in problem.needs:
        held = need.held or (need.hard_latest is not None and need.hard_latest < problem.days[0])
        left_out += held and need.id not in where and not _cancelling_days(problem, need, where)
    for job in problem.published:
        need = next(n for n in problem.needs if n.id == job.need)
        day = (job.day - problem.days[0]).days
        if not any(_fits_alone(problem, need, day, person.id) for person in problem.technicians):
            continue
        if need.id not in where:
            moved += not [n for n in problem.needs if need.id in n.cancels and n.id in where]
        elif where[need.id][0] != day:
            moved += 1
        elif where[need.id][1] != job.technician and _fits_alone(problem, need, day, job.technician):
            changed += 1
    return left_out, moved, changed, price(problem, where)


def _fits_alone(problem: PlanProblem, need: Need, day: int, person: str) -> bool:
    alone = {need.id: (day, person)}
    return not [b for b in breaches(problem, alone) if not b.endswith("follows nothing")]


def best_rank(problem: PlanProblem) -> tuple[int, int, int, int]:
    """The best rank over every plan there is, by trying them all."""
    return min(rank(problem, where) for where in every_plan(problem))


def every_plan(problem: PlanProblem) -> Iterator[Where]:
    spots = [(day, t.id) for day in range(len(problem.days)) for t in problem.technicians]
    options = {n.id: [s for s in spots if _fits_alone(problem, n, *s)] for n in problem.needs}
    yield from _extend(problem, options, [n.id for n in problem.needs], {})


def _extend(
    problem: PlanProblem, options: dict[str, list[tuple[int, str]]], names: list[str], where: Where
) -> Iterator[Where]:
    if not names:
        if not breaches(problem, where):
            yield where
        return
    needs = {n.id: n for n in problem.needs}
    for spot in itertools.chain([None], options[names[0]]):
        tried = where if spot is None else {**where, names[0]: spot}
        if spot is None or not _overfull(problem, needs, tried):
            yield from _extend(problem, options, names[1:], tried)
