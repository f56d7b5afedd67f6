"""Verbs on sites, places, people and the bench."""

import zoneinfo
from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from fleet.models import (
    Absence,
    BenchHours,
    ChecklistItem,
    ClosedDay,
    Departure,
    ErasedKind,
    Erasure,
    Person,
    PersonSkill,
    Place,
    Post,
    Press,
    Site,
)
from fleet.ranges import MINUTES, TEMPERATURE
from fleet.record.kernel import add, audit, check_fields, put, touch, verb
from fleet.refusal import Refused
from fleet.signals import places_touched
from fleet.vocabulary import BowKind, Role, Skill, TemperatureSource

LAST_WEEKDAY = 6
# Of a person; stands in their own row alone, where it can be erased.
PERSONAL = ("display_name", "email")
NIGHT_WATCH = "bracebook-by-night"
BEGIN = datetime.min.replace(tzinfo=UTC)


@verb
def found_book(*, username: str, display_name: str, password: str) -> Person:
    """Make the first owner of an empty book; refused once anybody is in it."""
    if Person.objects.exists():
        raise Refused(_("The book already has people: ask an owner for a sign-in."))
    owner = Person(username=username, display_name=display_name)
    owner.set_password(password)
    add(owner)
    Post.objects.create(person=owner, site=None, role=Role.OWNER)
    audit(owner, "found_book", owner)
    return owner


def night_watch() -> Person:
    """Who acts when nobody does: the book itself by night. It has no role and cannot sign in."""
    person = Person.objects.filter(username=NIGHT_WATCH).first()
    if person is None:
        person = Person(username=NIGHT_WATCH, display_name="Bracebook, by night", is_active=False)
        person.set_unusable_password()
        add(person)
    return person


@verb
def put_site(*, by: Person, code: str, **values: Any) -> Site:
    """Add a site, or change the named house settings of the one with this code."""
    _check_zone(values.get("time_zone", "UTC"))
    if "indoor_temperature_c" in values:
        TEMPERATURE.check(values["indoor_temperature_c"])
    days = values.get("opening_weekdays", [])
    if any(day not in range(LAST_WEEKDAY + 1) for day in days):
        raise Refused(_("opening weekdays %(days)s: each is 0 (Monday) to 6 (Sunday).") % {"days": days})
    site = Site.objects.filter(code=code).first() or Site(code=code)
    changed = put(site, values)
    if changed:
        audit(by, "put_site", site, code=code, changed=changed)
    if "indoor_temperature_c" in changed:
        _tell_of_heat(site.places.all())
        touch(site.bows.values_list("pk", flat=True))
    return site


def _tell_of_heat(places: QuerySet[Place]) -> None:
    """All that was ever computed of these places' heat is stale."""
    places_touched.send(sender=None, place_ids=set(places.values_list("pk", flat=True)), since=BEGIN)


def _check_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise Refused(_("time zone '%(name)s' is not known: give an IANA name such as Europe/Paris.") % {"name": name})


@verb
def put_place(*, by: Person, site: Site, name: str, temperature_source: str, **values: Any) -> Place:
    """Add a place of a site, or change where its temperature comes from."""
    if temperature_source not in TemperatureSource.values:
        raise Refused(
            _("temperature source '%(temperature_source)s' is not one of %(values)s.")
            % {"temperature_source": temperature_source, "values": ", ".join(TemperatureSource.values)}
        )
    if temperature_source == TemperatureSource.FIXED:
        fixed = values.get("fixed_temperature_c")
        if fixed is None:
            raise Refused(_("place %(name)s: a fixed place needs its temperature in degC.") % {"name": name})
        TEMPERATURE.check(fixed)
    place = Place.objects.filter(site=site, name=name).first() or Place(site=site, name=name)
    changed = put(place, {"temperature_source": temperature_source, **values})
    if changed:
        audit(by, "put_place", place, name=name, changed=changed)
        _tell_of_heat(Place.objects.filter(pk=place.pk))
        touch(place.stays.values_list("bow_id", flat=True))
    return place


@verb
def put_person(
    *,
    by: Person,
    username: str,
    display_name: str,
    site: Site | None,
    role: str,
    role_everywhere: bool = False,
    password: str | None = None,
    email: str = "",
) -> Person:
    """Add a person with a role at a site (or everywhere), or change the one with this user name."""
    if role not in Role.values:
        raise Refused(_("role '%(role)s' is not one of %(values)s.") % {"role": role, "values": ", ".join(Role.values)})
    person = Person.objects.filter(username=username).first() or Person(username=username)
    _check_not_gone(person)
    if person.pk is None:
        person.set_unusable_password()
    changed = put(person, {"display_name": display_name, "site": site, "email": email})
    if password is not None:
        person.set_password(password)
        person.save(update_fields=["password"])
        changed["password"] = ["", "set"]
    post_site = None if role_everywhere else site
    post = Post.objects.filter(person=person, site=post_site).first() or Post(person=person, site=post_site)
    changed |= put(post, {"role": role})
    if changed:
        audit(by, "put_person", person, changed=_without_personal(changed))
    return person


def _check_not_gone(person: Person) -> None:
    """Refuse to give somebody who left a role, and a name that was erased another one."""
    if Erasure.objects.filter(kind=ErasedKind.PERSON, number=person.pk, since=person.date_joined).exists():
        raise Refused(
            _("The name of %(person)s was erased: add a new person under another sign-in name.") % {"person": person}
        )
    if Departure.objects.filter(person_id=person.pk).exists():
        raise Refused(
            _("%(person)s left, and their sign-in is closed: an owner lets them in again first.") % {"person": person}
        )


def _without_personal(changed: dict[str, list[Any]]) -> dict[str, list[Any]]:
    """What changed of a person, for the audit trail: that a name or an address changed, never what it is."""
    return {name: ["", "set"] if name in PERSONAL else pair for name, pair in changed.items()}


@verb
def set_skills(*, by: Person, person: Person, skills: Iterable[str]) -> None:
    """Say what a person may do at the bench; replaces what was said before."""
    wanted = set(skills)
    if unknown := wanted - set(Skill.values):
        raise Refused(
            _("skill '%(unknown)s' is not one of %(values)s.")
            % {"unknown": sorted(unknown)[0], "values": ", ".join(Skill.values)}
        )
    before = set(person.skills.values_list("skill", flat=True))
    if wanted == before:
        return
    person.skills.all().delete()
    PersonSkill.objects.bulk_create(PersonSkill(person=person, skill=skill) for skill in sorted(wanted))
    audit(by, "set_skills", person, before=sorted(before), after=sorted(wanted))


@verb
def set_bench_hours(*, by: Person, person: Person, minutes_by_weekday: Mapping[int, int]) -> None:
    """Say how many minutes a person is at the bench on each weekday (Monday = 0)."""
    for weekday, minutes in minutes_by_weekday.items():
        if not 0 <= weekday <= LAST_WEEKDAY:
            raise Refused(
                _("weekday %(weekday)s is outside 0 (Monday) to 6 (Sunday): give one of these.") % {"weekday": weekday}
            )
        MINUTES.check(minutes)
    before = dict(person.bench_hours.values_list("weekday", "minutes"))
    after = {weekday: minutes for weekday, minutes in minutes_by_weekday.items() if minutes}
    if before == after:
        return
    person.bench_hours.all().delete()
    BenchHours.objects.bulk_create(
        BenchHours(person=person, weekday=weekday, minutes=minutes) for weekday, minutes in after.items()
    )
    audit(by, "set_bench_hours", person, before=before, after=after)


@verb
def add_absence(*, by: Person, person: Person, first_day: date, last_day: date, why: str = "") -> Absence:
    """Record the days, both included, on which a person is away."""
    if last_day < first_day:
        raise Refused(
            _("the absence ends on %(last_day)s before it begins on %(first_day)s: swap the days.")
            % {"last_day": last_day, "first_day": first_day}
        )
    absence, added = Absence.objects.get_or_create(
        person=person, first_day=first_day, last_day=last_day, defaults={"why": why}
    )
    if added:
        audit(by, "add_absence", absence, person=person, first_day=first_day, last_day=last_day)
    return absence


@verb
def close_day(*, by: Person, site: Site, day: date, why: str = "") -> ClosedDay:
    """Shut a site's bench on a day."""
    closed, added = ClosedDay.objects.get_or_create(site=site, day=day, defaults={"why": why})
    if added:
        audit(by, "close_day", closed, site=site, day=day)
    return closed


@verb
def put_press(*, by: Person, site: Site, name: str, minutes_per_day: int = 480) -> Press:
    """Add a press of a site, or change its minutes a day."""
    MINUTES.check(minutes_per_day)
    press = Press.objects.filter(site=site, name=name).first() or Press(site=site, name=name)
    changed = put(press, {"minutes_per_day": minutes_per_day})
    if changed:
        audit(by, "put_press", press, name=name, changed=changed)
    return press


@verb
def set_checklist(*, by: Person, site: Site, bow_kind: str, lines: Iterable[str]) -> None:
    """Replace a site's turnaround checklist for a bow kind."""
    if bow_kind not in BowKind.values:
        raise Refused(
            _("bow kind '%(bow_kind)s' is not one of %(values)s.")
            % {"bow_kind": bow_kind, "values": ", ".join(BowKind.values)}
        )
    after = list(lines)
    items = [
        ChecklistItem(site=site, bow_kind=bow_kind, place_in_list=place, text=text)
        for place, text in enumerate(after, start=1)
    ]
    for item in items:
        check_fields(item)
    there = ChecklistItem.objects.filter(site=site, bow_kind=bow_kind)
    before = list(there.order_by("place_in_list").values_list("text", flat=True))
    if before == after:
        return
    there.delete()
    ChecklistItem.objects.bulk_create(items)
    audit(by, "set_checklist", site, bow_kind=bow_kind, before=before, after=after)
