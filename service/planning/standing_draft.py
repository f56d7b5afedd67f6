"""The draft as a page of weeks shows it: up to date where that is quick, else as it stands while a task sees to it.

A site of some hundred needs is patched in seconds: too long for every view of a page, and at a large site some fact
changes all the time. So the page shows the draft as of when it was made, says that facts changed since, and has it
brought up to date.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from kombu.exceptions import OperationalError

from fleet.models import Site
from service import decide
from service.instants import day_of
from service.models import Need, Plan, StaleBow
from service.planning.drafts import SOLVED_ON_SIGHT_NEEDS, current_draft, last_day_of
from service.planning.made_from import still_holds
from service.planning.one_at_a_time import patching
from service.planning.told import draft_of

logger = logging.getLogger(__name__)
STALE_AT_ONCE = 20
"""Up to so many bows are computed while somebody waits: some hundredths of a second."""
Send = Callable[[int], object]


@dataclass(frozen=True)
class Shown:
    """A draft, and whether facts changed since it was made: then it is being brought up to date."""

    draft: Plan
    is_behind: bool
    waiting: int
    """Bows whose wear is still to be computed."""


def shown_draft(site: Site, days: int, now: datetime, send: Send) -> Shown:
    """The draft of a site from today on. `send` has it brought up to date; OperationalError: nobody can.

    Without a draft, or without a queue, it is made here and now.
    """
    decide.refresh_stale(now, at_most=STALE_AT_ONCE)
    waiting = StaleBow.objects.filter(bow__site=site).count()
    today, saved = day_of(now, site.time_zone), draft_of(site)
    if saved is None or is_quick(site, last_day_of(saved)):
        return Shown(current_draft(site, today, days, now, solve_if_small=True), False, waiting)
    if still_holds(saved, today, max(days, saved.days)):
        return Shown(saved, False, waiting)
    try:
        send(site.pk)
    except OperationalError:
        logger.warning("no queue: the draft of %s is patched while somebody waits", site.code)
        return Shown(current_draft(site, today, days, now), False, waiting)
    return Shown(saved, True, waiting)


def is_quick(site: Site, last_day: date) -> bool:
    """Whether the site needs little enough up to a day for its page to solve it (a second or two)."""
    # Counted up to the first too many: of a large site's thousands the others need not be looked at.
    few = Need.objects.filter(bow__site=site, earliest_on__lte=last_day).order_by()[: SOLVED_ON_SIGHT_NEEDS + 1]
    return few.count() <= SOLVED_ON_SIGHT_NEEDS


def bring_up_to_date(site_id: int, now: datetime) -> None:
    """Patch a site's draft, unless somebody does so now."""
    site = Site.objects.get(pk=site_id)
    with patching(site) as mine:
        if mine:
            decide.refresh_stale(now)
            saved = draft_of(site)
            current_draft(site, day_of(now, site.time_zone), 1 if saved is None else saved.days, now)
