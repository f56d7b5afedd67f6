"""From a lot of cords, a notice or an incident to every bow that it concerns, with guests and work, in one view."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from operator import attrgetter
from typing import Any

from django.core.paginator import Page
from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from fleet import lookups
from fleet.models import Booking, Bow, Cord, Fitting, Hire, Incident, Notice, NoticeMatch, Site
from fleet.vocabulary import BowState
from service.counted import counted_page
from service.instants import start_of
from service.models import WorkOrder
from service.verdict import Verdict
from service.verdicts import verdicts_of

PER_PAGE = 15


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
    """A page of the bows concerned at the reader's sites, how many there are elsewhere, and cords of it off any bow.

    Bows that are with a guest now come first: they are to be called back.
    """

    bows: "Page[AffectedBow]"
    elsewhere: int
    loose: tuple[Cord, ...]


@dataclass(frozen=True)
class _Concern:
    """Why one bow is concerned, and since when a guest could have met it."""

    why: str
    since: datetime


Concerns = dict[int, list[_Concern]]


@dataclass(frozen=True)
class _Reader:
    """Whose bows are shown, as of when, and which page of them was asked for."""

    sites: Sequence[Site]
    now: datetime
    page: str | None


def of_lot(lot: str, sites: Sequence[Site], now: datetime, page: str | None = None) -> Affected:
    """Bows that carry, or once carried, a cord of a lot."""
    return _affected([lot], Q(), {}, _Reader(sites, now, page))


def of_notice(notice: Notice, sites: Sequence[Site], now: datetime, page: str | None = None) -> Affected:
    """The bows that a notice matched, and those that once carried a cord of its lot."""
    lots = [notice.cord_lot] if notice.cord_lot else []
    return _affected(lots, Q(notices__notice=notice), {}, _Reader(sites, now, page), notice)


def of_incident(incident: Incident, sites: Sequence[Site], now: datetime, page: str | None = None) -> Affected:
    """The bow itself, and every bow that carries or carried a cord of the lots that were on it at the time."""
    on_it = Fitting.objects.filter(bow=incident.bow, fitted_at__lte=incident.happened_at).filter(
        Q(removed_at=None) | Q(removed_at__gte=incident.happened_at)
    )
    lots = sorted(set(on_it.exclude(cord__lot="").values_list("cord__lot", flat=True)))
    first = min((fitting.fitted_at for fitting in on_it), default=incident.happened_at)
    kind = incident.get_kind_display()
    own = _Concern(_("the bow of the incident (%(kind)s)") % {"kind": kind}, first)
    return _affected(lots, Q(pk=incident.bow_id), {incident.bow_id: [own]}, _Reader(sites, now, page))


def _carriers(lots: list[str], ids: list[int]) -> Concerns:
    """Which of these bows carry or carried a cord of the lots, in words."""
    found: Concerns = defaultdict(list)
    fittings = Fitting.objects.filter(cord__lot__in=lots, bow__in=ids).select_related("cord").order_by("fitted_at")
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
    fitted = Fitting.objects.filter(cord=OuterRef("pk"), removed_at=None)
    # Ordered here: the database would go through all cords by serial instead of through the lot.
    cords = Cord.objects.filter(~Exists(fitted), lot__in=lots, scrapped_at=None).select_related("spec")
    return tuple(sorted(cords, key=attrgetter("serial")))


def _affected(lots: list[str], also: Q, own: Concerns, reader: _Reader, notice: Notice | None = None) -> Affected:
    """The bows of some lots and those named besides (`also`, with `own` reasons), a page of them read whole."""
    concerned = _concerned(lots, also)
    mine = Q(site__in=reader.sites)
    counted = concerned.aggregate(mine=Count("pk", filter=mine), all=Count("pk"))
    out = Exists(Hire.objects.filter(bow=OuterRef("pk"), back_at=None))
    in_order = concerned.filter(mine).alias(out=out).order_by("-out", "tag").values_list("pk", flat=True)
    shown = counted_page(in_order, PER_PAGE, counted["mine"], reader.page)
    ids = list(shown)
    found = lookups.with_state(Bow.objects.filter(pk__in=ids).select_related("site", "spec_sheet")).in_bulk()
    matches = {} if notice is None else _matches(notice, ids)
    shown.object_list = _rows([found[pk] for pk in ids], lots, own, matches, reader.now)
    return Affected(shown, counted["all"] - counted["mine"], _loose(lots))


def _concerned(lots: list[str], also: Q) -> "QuerySet[Bow]":
    """Bows that carry or carried a cord of the lots, and those named besides; each once."""
    carriers = Q(pk__in=Fitting.objects.filter(cord__lot__in=lots).order_by().values("bow"))
    if not also:
        return Bow.objects.filter(carriers)
    # The bows that a notice names are joined: a subquery keeps each of them to one row.
    return Bow.objects.filter(pk__in=Bow.objects.filter(carriers | also).order_by().values("pk"))


def _matches(notice: Notice, ids: list[int]) -> dict[int, NoticeMatch]:
    return {match.bow_id: match for match in notice.matches.filter(bow__in=ids).select_related("hold", "answered_by")}


def _rows(
    bows: list[Any], lots: list[str], own: Concerns, matches: dict[int, NoticeMatch], now: datetime
) -> list[AffectedBow]:
    """Some bows, annotated with their state, with everything that is known of each; a few queries however many."""
    ids = [bow.pk for bow in bows]
    carried, verdicts = _carriers(lots, ids), verdicts_of(bows, now)
    bookings = _by_bow(Booking.objects.filter(bow__in=ids, cancelled_at=None, end__gte=now).order_by("start"))
    hires = _by_bow(Hire.objects.filter(bow__in=ids).order_by("-out_at"))
    orders = _by_bow(WorkOrder.objects.filter(bow__in=ids).order_by("-day"))
    rows = []
    for bow in bows:
        concerns = [*own.get(bow.pk, []), *carried.get(bow.pk, [])] or [_named_by_notice(bow)]
        rows.append(
            AffectedBow(
                bow=bow,
                state=BowState(bow.state),
                verdict=verdicts[bow.pk],
                why=tuple(one.why for one in concerns),
                match=matches.get(bow.pk),
                bookings=tuple(bookings[bow.pk]),
                hires=tuple(one for one in hires[bow.pk] if _met(one, concerns)),
                orders=tuple(orders[bow.pk]),
            )
        )
    return rows


def _named_by_notice(bow: Bow) -> _Concern:
    return _Concern(_("named by the notice"), start_of(bow.in_service_on, bow.site.time_zone))


def _met(hire: Hire, concerns: list[_Concern]) -> bool:
    """Whether a guest had the bow after what it is here for began."""
    return hire.back_at is None or any(hire.back_at >= one.since for one in concerns)


def _by_bow(rows: Iterable[Any]) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        found[row.bow_id].append(row)
    return found
