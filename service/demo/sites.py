"""The demo's two sites: Hollow Well Range (imperial, Letter) and Tarnmoor Camp (metric, A4), with people and bench."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from fleet import record
from fleet.models import Person, Place, Site
from fleet.vocabulary import BowKind, Role, Skill, TemperatureSource, ToolKind
from service.demo.makes import inch, pound
from service.demo.signins import SIGN_INS

RANGE_CODE, CAMP_CODE = "HW", "TC"
PASSWORDS = {username: password for username, password, _ in SIGN_INS}
MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY, SATURDAY, SUNDAY = range(7)

CHECKLISTS: dict[str, list[str]] = {
    BowKind.COMPOUND: [
        "Limbs: no crack, splinter or gap at the pockets",
        "Cams and axles: no bend, clips in place, no lean that was not there",
        "Cords: no broken strand, no fuzz at the cam tracks",
        "Servings: tight, not separated",
        "Timing marks where they belong",
        "Peep, loop and rest fast",
    ],
    BowKind.RECURVE: [
        "Limbs straight, bolts snug, no crack at the tips",
        "String: no broken strand, loops sound",
        "Serving and nocking point tight",
        "Brace height within its tolerance",
    ],
    BowKind.LONGBOW: [
        "Limbs: no lifted grain, no crack at nocks or grip",
        "String: no broken strand, loops sound",
        "Brace height within its tolerance",
    ],
}


@dataclass(frozen=True)
class Crew:
    """Who works at a site, and where its bows are kept."""

    site: Site
    manager: Person
    technicians: tuple[Person, ...]
    counter: Person
    places: dict[str, Place]
    tools: dict[str, str]  # tool kind -> code
    bench_weekdays: frozenset[int]  # on which a technician is at the bench, Monday 0

    @property
    def zone(self) -> ZoneInfo:
        """The site's time zone."""
        return ZoneInfo(self.site.time_zone)

    def today(self, now: datetime) -> date:
        """The calendar day at the site."""
        return now.astimezone(self.zone).date()


def put_range(owner: Person, today: date) -> Crew:
    """Hollow Well Range: a hall with a logged rack, two technicians, one press; closed on Mondays."""
    site = record.put_site(
        by=owner,
        code=RANGE_CODE.lower(),
        name="Hollow Well Range",
        time_zone="America/Boise",
        units="imperial",
        paper="letter",
        opening_weekdays=[TUESDAY, WEDNESDAY, THURSDAY, FRIDAY, SATURDAY, SUNDAY],
        indoor_temperature_c=21.0,
        currency="USD",
        labour_rate_per_hour=Decimal("38.00"),
        rental_value_per_day=Decimal("45.00"),
    )
    manager = _person(owner, site, "marta", "Marta Ellenby", Role.MANAGER)
    first = _person(owner, site, "teodor", "Teodor Hask", Role.TECHNICIAN)
    second = _person(owner, site, "imre", "Imre Solvang", Role.TECHNICIAN)
    counter = _person(owner, site, "juno", "Juno Applegarth", Role.COUNTER)
    hours = dict.fromkeys((TUESDAY, WEDNESDAY, THURSDAY, FRIDAY), 300) | {SATURDAY: 120}
    hours_of_second = {FRIDAY: 180, SATURDAY: 240, SUNDAY: 120}
    _bench(owner, first, list(Skill), hours)
    _bench(owner, second, [Skill.INSPECTION, Skill.PRESS, Skill.TIMING], hours_of_second)
    record.put_press(by=owner, site=site, name="Hall press", minutes_per_day=420)
    places = {
        "rack": record.put_place(by=owner, site=site, name="Hall rack", temperature_source=TemperatureSource.LOGGER),
        "locker": record.put_place(
            by=owner,
            site=site,
            name="Staff locker",
            temperature_source=TemperatureSource.FIXED,
            fixed_temperature_c=20.0,
        ),
    }
    _range_calendar(manager, site, second, today)
    _house(owner, site)
    # The scale's calibration ran out a fortnight ago: its readings are taken, marked, and said so on paper.
    due = {ToolKind.SCALE: -14, ToolKind.RULE: 210, ToolKind.DRAW_BOARD: 150}
    tools = _tools(owner, site, today, due, metric=False)
    return Crew(site, manager, (first, second), counter, places, tools, frozenset({*hours, *hours_of_second}))


def _range_calendar(manager: Person, site: Site, away: Person, today: date) -> None:
    record.close_day(by=manager, site=site, day=today + timedelta(days=9), why="hall hired out")
    record.close_day(by=manager, site=site, day=today - timedelta(days=33), why="floor resealed")
    first, last = today + timedelta(days=4), today + timedelta(days=11)
    record.add_absence(by=manager, person=away, first_day=first, last_day=last, why="away")


def put_camp(owner: Person, today: date) -> Crew:
    """Tarnmoor Camp: an unheated store, a trailer and a pick-up, one technician, one press; open every day."""
    site = record.put_site(
        by=owner,
        code=CAMP_CODE.lower(),
        name="Tarnmoor Camp",
        time_zone="Europe/Oslo",
        units="metric",
        paper="a4",
        opening_weekdays=list(range(7)),
        indoor_temperature_c=18.0,
        currency="EUR",
        labour_rate_per_hour=Decimal("42.00"),
        rental_value_per_day=Decimal("60.00"),
        guests_shoot_in=True,
        guest_name_days=14,
    )
    manager = _person(owner, site, "sunniva", "Sunniva Torp", Role.MANAGER)
    technician = _person(owner, site, "brage", "Brage Lunde", Role.TECHNICIAN)
    counter = _person(owner, site, "liv", "Liv Hestmark", Role.COUNTER)
    hours = dict.fromkeys((MONDAY, TUESDAY, THURSDAY, FRIDAY), 210)
    _bench(owner, technician, list(Skill), hours)
    _bench(owner, manager, [Skill.INSPECTION], {WEDNESDAY: 60})
    record.put_press(by=owner, site=site, name="Shed press", minutes_per_day=300)
    logger, parked = TemperatureSource.LOGGER, TemperatureSource.PARKED_VEHICLE
    places = {
        "store": record.put_place(by=owner, site=site, name="Store", temperature_source=logger),
        "trailer": record.put_place(by=owner, site=site, name="Trailer", temperature_source=logger),
        "pick-up": record.put_place(by=owner, site=site, name="Pick-up", temperature_source=parked),
    }
    record.close_day(by=manager, site=site, day=today + timedelta(days=12), why="camp moves to the lake")
    _house(owner, site)
    due = {ToolKind.SCALE: 95, ToolKind.RULE: 300, ToolKind.DRAW_BOARD: 60}
    tools = _tools(owner, site, today, due, metric=True)
    return Crew(site, manager, (technician,), counter, places, tools, frozenset(hours))


def _person(owner: Person, site: Site, username: str, name: str, role: str) -> Person:
    return record.put_person(
        by=owner, username=username, display_name=name, site=site, role=role, password=PASSWORDS[username]
    )


def _bench(owner: Person, person: Person, skills: list[Skill], minutes: dict[int, int]) -> None:
    record.set_skills(by=owner, person=person, skills=[str(skill) for skill in skills])
    record.set_bench_hours(by=owner, person=person, minutes_by_weekday=minutes)


def _house(owner: Person, site: Site) -> None:
    for kind, lines in CHECKLISTS.items():
        record.set_checklist(by=owner, site=site, bow_kind=kind, lines=lines)


def _tools(owner: Person, site: Site, today: date, due_in_days: dict[ToolKind, int], *, metric: bool) -> dict[str, str]:
    resolution: dict[str, float] = {
        ToolKind.SCALE: 1.0 if metric else pound(0.2),
        ToolKind.RULE: 0.0005 if metric else inch(1 / 32),
        ToolKind.DRAW_BOARD: 0.001 if metric else inch(1 / 16),
        ToolKind.LOGGER: 0.1,
    }
    codes: dict[str, str] = {}
    for kind, days in {**due_in_days, ToolKind.LOGGER: 400}.items():
        codes[kind] = f"{site.code.upper()}-{kind.upper().replace('_', '-')}-1"
        values: dict[str, Any] = {
            "resolution": resolution[kind],
            "calibration_due_on": today + timedelta(days=days),
        }
        record.put_tool(by=owner, code=codes[kind], site=site, kind=kind, **values)
    return codes
