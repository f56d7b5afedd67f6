"""How a plan writes days and money: as parts of sentences, which each reader reads in their own language."""

from datetime import date

from service.plan.costs import from_cents
from service.plan.problem import PlanProblem
from service.said import Figure, Said, mark, say, say_many

WEEKDAYS = (mark("Mon"), mark("Tue"), mark("Wed"), mark("Thu"), mark("Fri"), mark("Sat"), mark("Sun"))
MONTHS = (
    *(mark("Jan"), mark("Feb"), mark("Mar"), mark("Apr"), mark("May"), mark("Jun")),
    *(mark("Jul"), mark("Aug"), mark("Sep"), mark("Oct"), mark("Nov"), mark("Dec")),
)


def day_name(day: date) -> Said:
    """For example: Mon 3 Mar 2025."""
    return say(
        "%(weekday)s %(day)d %(month)s %(year)d",
        weekday=say(WEEKDAYS[day.weekday()]),
        day=day.day,
        month=say(MONTHS[day.month - 1]),
        year=day.year,
    )


def days_in_words(count: int) -> Said:
    return say_many("%(count)d day", "%(count)d days", count)


def money(problem: PlanProblem, cents: int) -> Figure:
    return Figure(f"{from_cents(cents):,.2f} {problem.currency}")
