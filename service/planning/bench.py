"""Who is at a site's bench and when: people with their minutes, presses, closed days."""

from collections import defaultdict
from datetime import date

from fleet.models import Person, Site
from service.models import OrderStatus, WorkOrder
from service.plan.problem import Technician

PRESS_VISIT_MINUTES = 60


def bench_people(site: Site) -> list[Person]:
    """People with bench hours at a site, by name."""
    people = Person.objects.filter(site=site, is_active=True, bench_hours__isnull=False).distinct()
    return list(people.prefetch_related("skills", "bench_hours", "absences").order_by("username"))


def minutes_on(person: Person, day: date) -> int:
    """Bench minutes of a person on a day; 0 when absent."""
    if any(away.first_day <= day <= away.last_day for away in person.absences.all()):
        return 0
    return sum(hours.minutes for hours in person.bench_hours.all() if hours.weekday == day.weekday())


def technicians(site: Site, horizon: tuple[date, ...], closed: frozenset[date]) -> tuple[Technician, ...]:
    """Each person's skills and minutes by day, less what an order in work takes of them on its day."""
    taken = _in_work(site)
    return tuple(
        Technician(
            id=person.username,
            name=str(person),
            skills=frozenset(skill.skill for skill in person.skills.all()),
            minutes=tuple(
                0 if day in closed else max(0, minutes_on(person, day) - taken[person.pk, day]) for day in horizon
            ),
        )
        for person in bench_people(site)
    )


def _in_work(site: Site) -> dict[tuple[int, date], int]:
    """Minutes of orders that are begun and not signed, by technician and day."""
    taken: defaultdict[tuple[int, date], int] = defaultdict(int)
    for order in WorkOrder.objects.filter(site=site, status=OrderStatus.IN_WORK).exclude(technician=None):
        if order.technician_id is not None:
            taken[order.technician_id, order.day] += order.minutes
    return taken


def closed_days(site: Site, horizon: tuple[date, ...]) -> frozenset[date]:
    """Days of the horizon on which the bench is shut: weekdays not opened, and days closed by name."""
    shut = set(site.closed_days.filter(day__in=horizon).values_list("day", flat=True))
    weekdays = set(site.opening_weekdays) or set(range(7))
    return frozenset(day for day in horizon if day in shut or day.weekday() not in weekdays)


def press_visits(site: Site, days: int) -> tuple[int, ...]:
    """How many bows a day can go into the site's presses."""
    visits = sum(press.minutes_per_day // PRESS_VISIT_MINUTES for press in site.presses.all())
    return (visits,) * days
