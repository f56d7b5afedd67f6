"""One cord's page: its life, its dates, and why it has them."""

from datetime import UTC, datetime

from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext as _

from fleet.models import Bow
from fleet.vocabulary import Position, Role
from service import schedule
from service.cord_card import cord_card
from service.pages.access import Here, bow_page


@bow_page(Role.COUNTER)
def cord(request: HttpRequest, here: Here, bow: Bow, position: str) -> HttpResponseBase:
    """The cord that is fitted at a position of a bow now."""
    now = datetime.now(UTC)
    card = cord_card(bow, position, now) if position in Position.values else None
    if card is None:
        name = Position(position).label if position in Position.values else position[:20]
        raise Http404(_("No %(cord)s is fitted on %(tag)s.") % {"cord": name, "tag": bow.tag})
    return render(request, "desk/cord.html", {"card": card, "today": schedule.today_at(bow.site, now)})
