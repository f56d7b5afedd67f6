"""Putting a due replacement off in writing: to which day a manager may, and the act itself."""

from dataclasses import dataclass
from datetime import date, datetime

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Bow, Deferral, Person
from fleet.refusal import Refused
from service.bow_facts import hard_limit_on
from service.house import LONGEST_DEFERRAL_DAYS
from service.instants import day_of
from service.models import CordWear, Need, NeedKind
from service.needs import last_possible_day


@dataclass(frozen=True)
class DeferralLimit:
    """A replacement that is due, the last day to which it may be put off, and what sets that day."""

    due_on: date
    latest_on: date
    because: str


def deferral_limit(bow: Bow) -> DeferralLimit | None:
    """To which day the bow's replacement may be put off; None where nothing routine is due.

    What holds the bow (a condemned cord) cannot be put off: only the bench releases it.
    """
    need = Need.objects.filter(bow=bow, kind=NeedKind.REPLACEMENT, holds=False).first()
    if need is None:
        return None
    wears = CordWear.objects.filter(fitting__bow=bow, fitting__removed_at=None).select_related("fitting__cord__spec")
    limits = [limit for wear in wears if (limit := hard_limit_on(wear, bow.site.time_zone)) is not None]
    latest = last_possible_day(limits, need.due_on)
    if latest in limits:
        because = _("a cord reaches its hard limit then")
    else:
        because = _("the house puts nothing off by more than %(days)d days") % {"days": LONGEST_DEFERRAL_DAYS}
    return DeferralLimit(need.due_on, latest, because)


def defer_replacement(*, by: Person, bow: Bow, until: date, why: str, now: datetime) -> Deferral:
    """Put the replacement of a bow's set off to a day, in writing."""
    limit = deferral_limit(bow)
    if limit is None:
        raise Refused(_("%(tag)s has no replacement due that can be put off.") % {"tag": bow.tag})
    today = day_of(now, bow.site.time_zone)
    first = max(limit.due_on, today)
    if limit.latest_on < first:
        told = {"tag": bow.tag, "latest": date_format(limit.latest_on), "because": limit.because}
        raise Refused(_("%(tag)s cannot wait: the last day was %(latest)s (%(because)s). Replace the set.") % told)
    if not first <= until <= limit.latest_on:
        told = {
            "until": date_format(until),
            "first": date_format(first),
            "latest": date_format(limit.latest_on),
            "because": limit.because,
        }
        raise Refused(_("%(until)s is not between %(first)s and %(latest)s (%(because)s): choose another day.") % told)
    return record.defer(by=by, bow=bow, need_kind=NeedKind.REPLACEMENT, until=until, why=why, at=now)
