"""Places: where a temperature comes from, its gaps, how hot it got, and which bows stood there."""

from datetime import UTC, datetime

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext as _

from fleet.models import Place
from fleet.vocabulary import Role
from service.heat_picture import heat_picture
from service.pages.access import Here, page
from service.place_heat import heat_of_parkings, lines_of, parkings_in, places_of, story_of

DAY_CHOICES = (30, 90)
PER_PAGE, PARKINGS_SHOWN = 10, 50


def _days(request: HttpRequest) -> int:
    asked = request.GET.get("days", "")
    return next((days for days in DAY_CHOICES if str(days) == asked), DAY_CHOICES[0])


@page(Role.TECHNICIAN)
def places(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Every place of the site with its heat, its gaps, and the bows left in parked vehicles."""
    now, days = datetime.now(UTC), _days(request)
    shown = Paginator(places_of(here.site), PER_PAGE).get_page(request.GET.get("page"))
    lines = lines_of(shown, now, days)
    parkings = parkings_in(here.site, now, days)
    content = {
        "places": shown,
        "lines": lines,
        "with_gaps": [line for line in lines if line.gaps or line.is_unread_vehicle],
        "parkings": heat_of_parkings(list(parkings[:PARKINGS_SHOWN]), here.site, now),
        "unnamed": max(0, parkings.count() - PARKINGS_SHOWN),
        "days": days,
        "day_choices": DAY_CHOICES,
    }
    return render(request, "desk/places.html", content)


@page(Role.TECHNICIAN)
def place(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """One place of the site, day by day."""
    found = Place.objects.select_related("site").filter(pk=pk, site=here.site).first()
    if found is None:
        raise Http404(_("There is no place with number %(pk)d at this site.") % {"pk": pk})
    days = _days(request)
    story = story_of(found, datetime.now(UTC), days)
    content = {"story": story, "picture": heat_picture(story.by_day), "days": days, "day_choices": DAY_CHOICES}
    return render(request, "desk/place.html", content)
