"""Verbs on heat: stays, parked vehicles, relaxed bows."""

from datetime import datetime
from typing import TypeVar

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from fleet.models import Bow, Person, Place, Relaxation, Stay, VehicleParking
from fleet.ranges import OUTSIDE_TEMPERATURE, TEMPERATURE
from fleet.record.kernel import add, audit, not_in_future, same_entry, touch, verb
from fleet.refusal import Refused
from service.wording import moment_here

Interval = TypeVar("Interval", Stay, Relaxation)


def check_interval(what: str, start: datetime, end: datetime | None, now: datetime) -> None:
    """Refuse an interval that runs backwards or reaches into the future."""
    not_in_future(f"{what} begins", start, now)
    if end is not None:
        if end <= start:
            raise Refused(
                _("%(what)s ends at %(end)s, not after its begin %(start)s: swap or correct the times.")
                % {"what": what, "end": moment_here(end), "start": moment_here(start)}
            )
        not_in_future(f"{what} ends", end, now)


def clash_of(bow: Bow, start: datetime, end: datetime | None) -> Stay | None:
    """A stay of the bow that shares time with start..end, if any (no end = still there)."""
    return _sharing_time(Stay.objects.filter(bow=bow).select_related("place"), start, end).order_by("start").first()


def _sharing_time(entries: "QuerySet[Interval]", start: datetime, end: datetime | None) -> "QuerySet[Interval]":
    entries = entries.filter(Q(end=None) | Q(end__gt=start))
    return entries if end is None else entries.filter(start__lt=end)


@verb
def add_stay(
    *, by: Person, bow: Bow, place: Place, start: datetime, now: datetime, end: datetime | None = None
) -> Stay:
    """Record a bow at a place from start to end (none = still there); stays never overlap."""
    check_interval(f"{bow.tag}: the stay", start, end, now)
    existing = Stay.objects.filter(bow=bow, place=place, start=start, end=end).first()
    if existing is not None:
        return existing
    clash = clash_of(bow, start, end)
    if clash is not None:
        until = moment_here(clash.end) if clash.end else "now"
        raise Refused(
            _(
                "%(tag)s was at %(place)s from %(start)s to %(until)s, which overlaps %(new_start)s: "
                "end that stay first, or correct the times."
            )
            % {
                "tag": bow.tag,
                "place": clash.place,
                "start": moment_here(clash.start),
                "until": until,
                "new_start": moment_here(start),
            }
        )
    stay = add(Stay(bow=bow, place=place, start=start, end=end))
    audit(by, "add_stay", stay, bow=bow, place=place, start=start, end=end)
    touch([bow.pk])
    return stay


@verb
def move_to_place(*, by: Person, bow: Bow, place: Place, at: datetime, now: datetime) -> Stay:
    """End the open stay, if any, and begin one at another place."""
    open_stay = Stay.objects.filter(bow=bow, end=None).first()
    if open_stay is not None:
        if open_stay.place_id == place.pk:
            return open_stay
        check_interval(f"{bow.tag}: the stay at {open_stay.place}", open_stay.start, at, now)
        open_stay.end = at
        open_stay.save(update_fields=["end"])
        audit(by, "move_to_place", open_stay, bow=bow, before=open_stay.place, after=place, at=at)
    return add_stay(by=by, bow=bow, place=place, start=at, now=now)


@verb
def park_in_vehicle(
    *,
    by: Person,
    bow: Bow,
    start: datetime,
    end: datetime,
    key: str,
    now: datetime,
    outside_c: float | None = None,
    cabin_c: float | None = None,
    shade: bool = False,
    boot: bool = False,
) -> VehicleParking:
    """Record a bow left in a parked vehicle, with the outside temperature or the cabin's where measured (degC)."""
    existing = VehicleParking.objects.filter(key=key).first()
    if existing is not None:
        there = {"bow": existing.bow, "start": existing.start, "end": existing.end}
        given = {"bow": bow, "start": start, "end": end}
        same_entry(key, {name: (there[name], given[name]) for name in there})
        return existing
    check_interval(f"{bow.tag}: the parking", start, end, now)
    clash = VehicleParking.objects.filter(bow=bow, start__lt=end, end__gt=start).first()
    if clash is not None:
        raise Refused(
            _("%(tag)s was in a vehicle from %(start)s to %(end)s already: correct the times.")
            % {"tag": bow.tag, "start": moment_here(clash.start), "end": moment_here(clash.end)}
        )
    if outside_c is None and cabin_c is None:
        raise Refused(_("%(tag)s: give the outside temperature, or the cabin's if it was measured.") % {"tag": bow.tag})
    if outside_c is not None:
        OUTSIDE_TEMPERATURE.check(outside_c)
    if cabin_c is not None:
        TEMPERATURE.check(cabin_c)
    parking = add(
        VehicleParking(
            bow=bow, start=start, end=end, outside_c=outside_c, cabin_c=cabin_c, shade=shade, boot=boot, key=key
        )
    )
    audit(by, "park_in_vehicle", parking, bow=bow, start=start, end=end, outside_c=outside_c, cabin_c=cabin_c)
    touch([bow.pk])
    return parking


@verb
def relax(*, by: Person, bow: Bow, start: datetime, why: str, now: datetime, end: datetime | None = None) -> Relaxation:
    """Record that a bow was unstrung or relaxed in a press: its cords carried no tension."""
    check_interval(f"{bow.tag}: relaxed", start, end, now)
    if why not in ("press", "unstrung"):
        raise Refused(_("why '%(why)s' is not one of press, unstrung.") % {"why": why})
    existing = Relaxation.objects.filter(bow=bow, start=start, end=end, why=why).first()
    if existing is not None:
        return existing
    clash = _sharing_time(Relaxation.objects.filter(bow=bow), start, end).order_by("start").first()
    if clash is not None:
        until = moment_here(clash.end) if clash.end else "now"
        raise Refused(
            _(
                "%(tag)s was relaxed (%(why)s) from %(start)s to %(until)s already: string it up "
                "first, or correct the times."
            )
            % {"tag": bow.tag, "why": clash.get_why_display(), "start": moment_here(clash.start), "until": until}
        )
    entry = add(Relaxation(bow=bow, start=start, end=end, why=why))
    audit(by, "relax", entry, bow=bow, start=start, end=end, why=why)
    touch([bow.pk])
    return entry


@verb
def string_up(*, by: Person, bow: Bow, at: datetime, now: datetime) -> None:
    """End the open relaxation: the bow is braced again."""
    entry = Relaxation.objects.filter(bow=bow, end=None).first()
    if entry is None:
        raise Refused(_("%(tag)s is not recorded as relaxed: there is nothing to end.") % {"tag": bow.tag})
    check_interval(f"{bow.tag}: relaxed", entry.start, at, now)
    entry.end = at
    entry.save(update_fields=["end"])
    audit(by, "string_up", entry, bow=bow, at=at)
    touch([bow.pk])
