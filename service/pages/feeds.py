"""Calendar feeds: making and revoking their keys, and the feeds themselves, opened by their token alone."""

from datetime import UTC, datetime, time

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from fleet import record
from fleet.models import FeedKey, Person
from fleet.vocabulary import Role
from service.feeds.calendar import as_csv, as_icalendar, feed_of
from service.feeds.keys import keys_shown_to
from service.pages.access import Here, feed_page, page
from service.schedule import bench_people

WHOLE_SITE = ""


@page(Role.TECHNICIAN)
def feeds(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The feeds that the person may see, and those that they may make."""
    return _show(request, here)


def _show(request: HttpRequest, here: Here, token: str = "") -> HttpResponseBase:
    address = ""
    if token:
        address = settings.PUBLIC_URL + reverse("feed-ics", args=[token])
    content = {
        "keys": keys_shown_to(here.person, here.site, here.role),
        "people": _people(here),
        "address": address,
        "table_address": address.removesuffix(".ics") + ".csv" if address else "",
    }
    response = render(request, "feeds/feeds.html", content)
    if token:
        response["Cache-Control"] = "no-store"
    return response


def _people(here: Here) -> list[Person]:
    """Whose calendar the person may make a key for: their own; a manager, everybody's who works at the bench."""
    people = bench_people(here.site)
    return people if here.at_desk else [person for person in people if person == here.person]


@require_POST
@page(Role.TECHNICIAN)
def make(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Make a feed; its address is shown on this answer alone."""
    wanted = request.POST.get("whose", WHOLE_SITE if here.at_desk else here.person.username)
    people = {person.username: person for person in _people(here)}
    if wanted not in people and not (wanted == WHOLE_SITE and here.at_desk):
        raise Http404(_("You can make no calendar for %(name)s here.") % {"name": wanted[:40] or here.site})
    _key, token = record.make_feed(by=here.person, site=here.site, technician=people.get(wanted), now=datetime.now(UTC))
    return _show(request, here, token)


@require_POST
@page(Role.TECHNICIAN)
def revoke(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """Shut a feed."""
    key = next((one for one in keys_shown_to(here.person, here.site, here.role) if one.pk == pk), None)
    if key is None:
        raise Http404(_("There is no such calendar among yours."))
    record.revoke_feed(by=here.person, key=key, now=datetime.now(UTC))
    messages.success(request, _("Its address opens nothing any more."), extra_tags="good")
    return redirect("feeds")


@require_POST
@page(Role.MANAGER)
def bench_opens(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The hour from which the day's jobs are laid out in the calendars."""
    typed = request.POST.get("bench_opens", "")
    try:
        at = time.fromisoformat(typed)
    except ValueError:
        told = _("'%(typed)s' is not a time of day: write it as 08:00.") % {"typed": typed[:20]}
        messages.error(request, told, extra_tags="stop")
    else:
        record.put_site(by=here.person, code=here.site.code, bench_opens=at.replace(tzinfo=None))
    return redirect("feeds")


@require_safe
@feed_page
def feed_ics(request: HttpRequest, key: FeedKey) -> HttpResponseBase:
    """A feed as iCalendar."""
    now = datetime.now(UTC)
    return _sent(as_icalendar(feed_of(key, now), now), "text/calendar; charset=utf-8", f"{_name(key)}.ics")


@require_safe
@feed_page
def feed_csv(request: HttpRequest, key: FeedKey) -> HttpResponseBase:
    """A feed as CSV."""
    return _sent(as_csv(feed_of(key, datetime.now(UTC))).encode(), "text/csv; charset=utf-8", f"{_name(key)}.csv")


def _name(key: FeedKey) -> str:
    return f"bench-{key.site.code}"


def _sent(content: bytes, kind: str, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type=kind)
    response["Content-Disposition"] = f'inline; filename="{name}"'
    response["Cache-Control"] = "private, no-cache"
    response["X-Robots-Tag"] = "noindex"
    return response
