"""How a plan writes days and money: the same words on every machine, whatever its locale."""

from datetime import date

from service.plan.costs import from_cents
from service.plan.problem import PlanProblem

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_name(day: date) -> str:
    """For example: Mon 3 Mar 2025."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def days_in_words(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def money(problem: PlanProblem, cents: int) -> str:
    return f"{from_cents(cents):,.2f} {problem.currency}"
