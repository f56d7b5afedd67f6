"""From a lot of cords, a notice or an incident to every bow that it concerns, with guests and work, in one view."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from fleet import lookups
from fleet.models import Booking, Bow, Cord, Fitting, Hire, Incident, Notice, NoticeMatch, Site
from fleet.vocabulary import BowState
from service.instants import start_of
from service.models import WorkOrder
from service.verdict import Verdict
from service.verdicts import verdicts_of


@dataclass(frozen=True)
class AffectedBow:
    """One bow: why it is here, where it stands, who is promised it, who had it meanwhile, what work was ordered."""

    bow: Bow
    state: BowState
    verdict: Verdict
    why: tuple[str, ...]
    match: NoticeMatch | None
    bookings: tuple[Booking, ...]
    hires: tuple[Hire, ...]
    orders: tuple[WorkOrder, ...]


@dataclass(frozen=True)
class Affected:
    """Every bow concerned at the reader's sites, how many there are elsewhere, and cords of it off any bow."""

    bows: tuple[AffectedBow, ...]
    elsewhere: int
    loose: tuple[Cord, ...]


@dataclass(frozen=True)
class _Concern:
    """Why one bow is concerned, and since when a guest could have met it."""

    why: str
    since: datetime


Concerns = dict[int, list[_Concern]]


def of_lot(lot: str, sites: Sequence[Site], now: datetime) -> Affected:
    """Bows that carry, or once carried, a cord of a lot."""
    return _affected(_carriers([lot]), sites, now, {}, _loose([lot]))


def of_notice(notice: Notice, sites: Sequence[Site], now: datetime) -> Affected:
    """The bows that a notice matched, and those that once carried a cord of its lot."""
    matches = {match.bow_id: match for match in notice.matches.select_related("hold", "answered_by")}
    lots = [notice.cord_lot] if notice.cord_lot else []
    concerns = _carriers(lots)
    for bow in Bow.objects.filter(pk__in=matches).select_related("site"):
        if bow.pk not in concerns:
            since = start_of(bow.in_service_on, bow.site.time_zone)
            concerns[bow.pk] = [_Concern(_("named by the notice"), since)]
    return _affected(concerns, sites, now, matches, _loose(lots))


def of_incident(incident: Incident, sites: Sequence[Site], now: datetime) -> Affected:
    """The bow itself, and every bow that carries or carried a cord of the lots that were on it at the time."""
    on_it = Fitting.objects.filter(bow=incident.bow, fitted_at__lte=incident.happened_at).filter(
        Q(removed_at=None) | Q(removed_at__gte=incident.happened_at)
    )
    lots = sorted(set(on_it.exclude(cord__lot="").values_list("cord__lot", flat=True)))
    concerns = _carriers(lots)
    first = min((fitting.fitted_at for fitting in on_it), default=incident.happened_at)
    kind = incident.get_kind_display()
    concerns[incident.bow_id] = [
        _Concern(_("the bow of the incident (%(kind)s)") % {"kind": kind}, first),
        *concerns.get(incident.bow_id, []),
    ]
    return _affected(concerns, sites, now, {}, _loose(lots))


def _carriers(lots: list[str]) -> Concerns:
    found: Concerns = defaultdict(list)
    fittings = Fitting.objects.filter(cord__lot__in=lots).select_related("cord").order_by("fitted_at")
    for fitting in fittings:
        named = {
            "position": fitting.get_position_display(),
            "serial": fitting.cord.serial,
            "lot": fitting.cord.lot,
            "since": date_format(fitting.fitted_at, "DATE_FORMAT"),
        }
        if fitting.removed_at is None:
            why = _("carries %(position)s %(serial)s of lot %(lot)s since %(since)s") % named
        else:
            named["until"] = date_format(fitting.removed_at, "DATE_FORMAT")
            why = _("carried %(position)s %(serial)s of lot %(lot)s from %(since)s to %(until)s") % named
        found[fitting.bow_id].append(_Concern(why, fitting.fitted_at))
    return found


def _loose(lots: list[str]) -> tuple[Cord, ...]:
    """Cords of the lots that are on no bow and not scrapped: they must not be fitted either."""
    fitted = Fitting.objects.filter(removed_at=None).values("cord")
    cords = Cord.objects.filter(lot__in=lots, scrapped_at=None).exclude(pk__in=fitted)
    return tuple(cords.select_related("spec").order_by("serial"))


def _affected(
    concerns: Concerns,
    sites: Sequence[Site],
    now: datetime,
    matches: dict[int, NoticeMatch],
    loose: tuple[Cord, ...],
) -> Affected:
    mine = Bow.objects.filter(pk__in=concerns, site__in=sites).select_related("site", "spec_sheet")
    bows = list(lookups.with_state(mine).order_by("tag"))
    ids = [bow.pk for bow in bows]
    verdicts = verdicts_of(bows, now)
    ahead = Booking.objects.filter(bow__in=ids, cancelled_at=None, end__gte=now).order_by("start")
    bookings = _by_bow(ahead)
    hires = _by_bow(Hire.objects.filter(bow__in=ids).order_by("-out_at"))
    orders = _by_bow(WorkOrder.objects.filter(bow__in=ids).order_by("-day"))
    rows = [
        AffectedBow(
            bow=bow,
            state=BowState(bow.state),
            verdict=verdicts[bow.pk],
            why=tuple(one.why for one in concerns[bow.pk]),
            match=matches.get(bow.pk),
            bookings=tuple(bookings[bow.pk]),
            hires=tuple(one for one in hires[bow.pk] if _met(one, concerns[bow.pk])),
            orders=tuple(orders[bow.pk]),
        )
        for bow in bows
    ]
    return Affected(tuple(rows), len(concerns) - len(rows), loose)


def _met(hire: Hire, concerns: list[_Concern]) -> bool:
    """Whether a guest had the bow after what it is here for began."""
    return hire.back_at is None or any(hire.back_at >= one.since for one in concerns)


def _by_bow(rows: Iterable[Any]) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        found[row.bow_id].append(row)
    return found
