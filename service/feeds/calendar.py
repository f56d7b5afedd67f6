"""The bench's calendar as iCalendar (RFC 5545) and as CSV.

Times are wall times in the site's zone with its VTIMEZONE: a job at eight stays at eight when the clocks change.
A day's jobs follow each other from the hour at which the bench opens: an order of work, not an appointment.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils.translation import gettext as _
from icalendar import Calendar, Event

from fleet.models import FeedKey, Person, Site
from service.export import csv_text
from service.feeds.entries import DAYS_BACK, Entry, entries_of, for_technician
from service.instants import day_of
from service.models import NeedKind
from service.plan.problem import LONGEST_HORIZON_DAYS

PRODUCT = "-//Bracebook//Bench calendar//EN"
REFRESH = timedelta(hours=1)


@dataclass(frozen=True)
class Feed:
    """The entries that a key opens, and the names that they are shown with."""

    site: Site
    technician: Person | None
    entries: list[Entry]
    names: dict[str, str]

    @property
    def title(self) -> str:
        """What the calendar is called."""
        bench = _("Bench, %(site)s") % {"site": self.site.name}
        return f"{bench}: {self.technician.display_name}" if self.technician else bench


def feed_of(key: FeedKey, now: datetime) -> Feed:
    """What a key opens as of now."""
    entries = entries_of(key.site, day_of(now, key.site.time_zone))
    if key.technician is not None:
        entries = for_technician(entries, key.technician)
    people = {entry.told.technician for entry in entries}
    names = dict(Person.objects.filter(username__in=people).values_list("username", "display_name"))
    return Feed(key.site, key.technician, entries, names)


def as_icalendar(feed: Feed, now: datetime) -> bytes:
    """The feed as text/calendar."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", feed.title)
    calendar.add("x-wr-calname", feed.title)
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    for entry in feed.entries:
        calendar.add_component(_event(feed, entry))
    today = now.date()
    calendar.add_missing_timezones(
        first_date=today - timedelta(days=DAYS_BACK + 366), last_date=today + timedelta(days=LONGEST_HORIZON_DAYS + 366)
    )
    return bytes(calendar.to_ical())


def _event(feed: Feed, entry: Entry) -> Event:
    start, end = _times(feed.site, entry)
    event = Event()
    event.add("uid", f"{entry.uid}@{urlsplit(settings.PUBLIC_URL).hostname or 'bracebook.invalid'}")
    event.add("dtstamp", entry.changed_at.astimezone(UTC))
    event.add("created", entry.made_at.astimezone(UTC))
    event.add("last-modified", entry.changed_at.astimezone(UTC))
    event.add("sequence", entry.sequence)
    event.add("dtstart", start)
    event.add("dtend", end)
    event.add("summary", f"{entry.bow}: {work_of(entry)}")
    event.add("description", _description(feed, entry))
    event.add("location", feed.site.name)
    event.add("status", "CANCELLED" if entry.told.cancelled else "CONFIRMED")
    event.add("transp", "TRANSPARENT" if entry.told.cancelled else "OPAQUE")
    return event


def _description(feed: Feed, entry: Entry) -> str:
    lines = [_("%(minutes)d min at the bench") % {"minutes": entry.told.minutes}]
    if entry.told.technician:
        lines.append(_("Technician: %(name)s") % {"name": _name(feed, entry)})
    if entry.told.order:
        lines.append(_("Order %(number)s") % {"number": entry.told.order})
    lines.append(_("The order of work of the day; the time is the sum of the jobs before it."))
    return "\n".join(lines)


def _name(feed: Feed, entry: Entry) -> str:
    return feed.names.get(entry.told.technician, entry.told.technician)


def work_of(entry: Entry) -> str:
    """What is to be done, in words."""
    return ", ".join(str(NeedKind(kind).label) for kind in entry.told.kinds)


def _times(site: Site, entry: Entry) -> tuple[datetime, datetime]:
    """Begin and end on the site's clock."""
    zone = ZoneInfo(site.time_zone)
    begin = datetime.combine(entry.told.day, site.bench_opens) + timedelta(minutes=entry.told.minutes_before)
    return begin.replace(tzinfo=zone), (begin + timedelta(minutes=entry.told.minutes)).replace(tzinfo=zone)


def as_csv(feed: Feed) -> str:
    """The feed as a table: one row per entry, times with their offset from UTC."""
    head = ("uid", "status", "sequence", "changed_at", "start", "end", "minutes", "bow", "work", "technician", "order")
    rows = []
    for entry in feed.entries:
        start, end = _times(feed.site, entry)
        rows.append(
            (
                entry.uid, "cancelled" if entry.told.cancelled else "confirmed", entry.sequence,
                entry.changed_at.astimezone(UTC).isoformat(timespec="seconds"), start.isoformat(), end.isoformat(),
                entry.told.minutes, entry.bow, work_of(entry), _name(feed, entry), entry.told.order,
            )
        )  # fmt: skip
    return csv_text(head, rows)
