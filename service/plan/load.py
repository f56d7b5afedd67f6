"""How full the bench is: minutes and press visits that a plan uses on each day, against what is there."""

from dataclasses import dataclass
from datetime import date

from service.plan.bench import Bench
from service.plan.frame import frame_of, spots_in
from service.plan.outcome import Plan
from service.plan.problem import PlanProblem


@dataclass(frozen=True)
class DayLoad:
    """One day: minutes used and there per technician id, press visits used and there."""

    day: date
    minutes_used: dict[str, int]
    minutes_there: dict[str, int]
    press_used: int
    press_there: int


def load_of(problem: PlanProblem, plan: Plan) -> tuple[DayLoad, ...]:
    """One entry per day of the horizon; a closed day has no minutes and no press visits."""
    frame = frame_of(problem)
    bench = Bench(frame, spots_in(frame, plan))
    days = []
    for number, day in enumerate(problem.days):
        people = list(enumerate(frame.technicians))
        there = {p.id: p.minutes[number] for _, p in people}
        press = problem.press_visits[number]
        days.append(
            DayLoad(
                day=day,
                minutes_used={p.id: there[p.id] - bench.minutes_left[index][number] for index, p in people},
                minutes_there=there if frame.is_open[number] else dict.fromkeys(there, 0),
                press_used=press - bench.press_left[number],
                press_there=press if frame.is_open[number] else 0,
            )
        )
    return tuple(days)
