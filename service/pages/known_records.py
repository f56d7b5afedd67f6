"""What the book knows of a record that is to be changed on a page, by the fields of its kind of file."""

from collections.abc import Callable, Mapping
from typing import Any
from zoneinfo import ZoneInfo

from django.http import Http404
from django.utils.translation import gettext as _

from fleet import lookups
from fleet.models import Bow, MeasuringTool, Person, Place, Press
from fleet.vocabulary import ToolKind
from service.intake import KINDS
from service.intake.kinds.people import MINUTE_FIELDS
from service.intake.kinds.specs import known_cord_spec, known_spec_sheet
from service.intake.kinds.tools import READS, RESOLUTION
from service.pages.access import Here

Known = Mapping[str, Any]
# Fields that the register calls otherwise.
ATTRIBUTES = {"indoor_temperature": "indoor_temperature_c", "fixed_temperature": "fixed_temperature_c"}


def known_record(kind: str, name: str, here: Here, now: Any) -> Known:
    """The record of this name at the reader's sites, by field; 404 where there is none, or none that is changed so."""
    find = _FIND.get(kind)
    known = find(name, here, now) if find is not None else None
    if known is None:
        raise Http404(_("There is no %(kind)s '%(name)s' at your sites.") % {"kind": kind, "name": name[:60]})
    return known


def _fields(kind: str, record: Any) -> dict[str, Any]:
    names = {column.field: ATTRIBUTES.get(column.field, column.field) for column in KINDS[kind].columns}
    return {name: getattr(record, attribute) for name, attribute in names.items() if hasattr(record, attribute)}


def _site(name: str, here: Here, now: Any) -> Known | None:
    site = next((site for site in here.sites if site.code == name), None)
    return None if site is None else _fields("sites", site)


def _place(name: str, here: Here, now: Any) -> Known | None:
    place = Place.objects.filter(site=here.site, name=name).select_related("site").first()
    return None if place is None else _fields("places", place)


def _press(name: str, here: Here, now: Any) -> Known | None:
    press = Press.objects.filter(site=here.site, name=name).select_related("site").first()
    return None if press is None else _fields("presses", press)


def _tool(name: str, here: Here, now: Any) -> Known | None:
    tool = MeasuringTool.objects.filter(site__in=here.sites, code=name).select_related("site").first()
    if tool is None:
        return None
    return {**_fields("tools", tool), f"{RESOLUTION}_of_{READS[ToolKind(tool.kind)]}": tool.resolution}


def _person(name: str, here: Here, now: Any) -> Known | None:
    person = Person.objects.filter(username=name).select_related("site").first()
    if person is None:
        return None
    everywhere = person.posts.filter(site=None).first()
    post = everywhere or person.posts.filter(site=person.site).first()
    minutes: dict[int, int] = dict(person.bench_hours.values_list("weekday", "minutes"))
    return {
        "username": person.username,
        "display_name": person.display_name,
        "role": post.role if post else "",
        "site": person.site,
        # An empty cell leaves a role as it is; "no" would be refused for one that holds everywhere.
        **({"everywhere": True} if everywhere else {}),
        "email": person.email,
        "skills": tuple(sorted(person.skills.values_list("skill", flat=True))),
        **{field: minutes.get(day, 0) for field, day in MINUTE_FIELDS.items()},
    }


def _bow(name: str, here: Here, now: Any) -> Known | None:
    bow = Bow.objects.filter(site__in=here.sites, tag=name).select_related("site", "spec_sheet").first()
    if bow is None:
        return None
    set_up = lookups.set_up_at(bow, now)
    known = _fields("bows", bow)
    if set_up is not None:
        # With the instant of the set-up that is known, a corrected value corrects it; a later one begins a new one.
        since = set_up.since.astimezone(ZoneInfo(bow.site.time_zone)).replace(tzinfo=None).isoformat()
        known |= {
            "draw_length": set_up.draw_length_m,
            "peak_weight": set_up.peak_weight_n,
            "set_up_since": since,
        }
    return known


def _cord_spec(name: str, here: Here, now: Any) -> Known | None:
    return known_cord_spec(name)


def _spec_sheet(name: str, here: Here, now: Any) -> Known | None:
    return known_spec_sheet(name)


_FIND: dict[str, Callable[[str, Here, Any], Known | None]] = {
    "sites": _site,
    "places": _place,
    "presses": _press,
    "tools": _tool,
    "people": _person,
    "bows": _bow,
    "cord-specs": _cord_spec,
    "spec-sheets": _spec_sheet,
}
