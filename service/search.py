"""One box for everything with a name: bows, cords (also those that came off), lots, orders, bookings, hires."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Case, Q, QuerySet, Value, When

from fleet import lookups
from fleet.models import Booking, Bow, Cord, Fitting, Hire, Site
from service.models import WorkOrder

SHORTEST = 2
MOST_OF_A_KIND = 20


@dataclass(frozen=True)
class FoundCord:
    """A cord with the bow that it is on, or was on last."""

    cord: Cord
    fitting: Fitting | None


@dataclass(frozen=True)
class Found:
    """What a text finds, at most MOST_OF_A_KIND of each kind; `lot` is the text where it is the whole name of a lot."""

    text: str
    bows: tuple[Any, ...]
    cords: tuple[FoundCord, ...]
    orders: tuple[WorkOrder, ...]
    bookings: tuple[Booking, ...]
    hires: tuple[Hire, ...]
    lot: str

    @property
    def nothing(self) -> bool:
        """Whether nothing bears such a name."""
        return not (self.bows or self.cords or self.orders or self.bookings or self.hires)


def find(text: str, sites: Sequence[Site]) -> Found:
    """What bears the text as its name, or a part of it, at these sites; an exact name comes first.

    A cord belongs to the sites of the bows that it was on; one that was on none yet is found from everywhere.
    """
    bows = lookups.with_state(Bow.objects.filter(site__in=sites)).select_related("spec_sheet", "site")
    orders = WorkOrder.objects.filter(site__in=sites).select_related("bow", "site")
    bookings = Booking.objects.filter(site__in=sites).select_related("site", "bow")
    hires = Hire.objects.filter(bow__site__in=sites).select_related("bow")
    cords = _cords(text, sites)
    return Found(
        text=text,
        bows=tuple(_exact_first(bows.filter(Q(tag__icontains=text) | Q(serial__icontains=text)), "tag", text)),
        cords=cords,
        orders=tuple(_exact_first(_named(orders, "number", text), "number", text)),
        bookings=tuple(_exact_first(_named(bookings, "reference", text), "reference", text)),
        hires=tuple(_named(hires, "reference", text).order_by("-out_at")[:MOST_OF_A_KIND]),
        lot=next((one.cord.lot for one in cords if one.cord.lot.casefold() == text.casefold()), ""),
    )


def the_bow(text: str, sites: Sequence[Site]) -> Bow | None:
    """The bow whose tag or serial is just this text, if there is one alone: what a scanned label says."""
    exact = Bow.objects.filter(Q(tag__iexact=text) | Q(serial__iexact=text), site__in=sites)
    found = list(exact[:2])
    return found[0] if len(found) == 1 else None


def _named(rows: "QuerySet[Any]", field: str, text: str) -> "QuerySet[Any]":
    """Rows with the text in a field that has an index: sought there, since the rows themselves are long."""
    there = rows.model._default_manager.filter(**{f"{field}__icontains": text})
    return rows.filter(pk__in=there.values("pk"))


def _exact_first(rows: "QuerySet[Any]", field: str, text: str) -> "QuerySet[Any]":
    exact = Case(When(**{f"{field}__iexact": text}, then=Value(0)), default=Value(1))
    return rows.order_by(exact, field)[:MOST_OF_A_KIND]


def _cords(text: str, sites: Sequence[Site]) -> tuple[FoundCord, ...]:
    cords = Cord.objects.filter(Q(serial__icontains=text) | Q(lot__iexact=text)).select_related("spec")
    of_others = Fitting.objects.exclude(bow__site__in=sites).values("cord")
    own = Fitting.objects.filter(bow__site__in=sites).values("cord")
    seen = list(_exact_first(cords.filter(Q(pk__in=own) | ~Q(pk__in=of_others)), "serial", text))
    last: dict[int, Fitting] = {}
    fittings = Fitting.objects.filter(cord__in=seen, bow__site__in=sites).select_related("bow")
    for fitting in fittings.order_by("fitted_at"):
        last[fitting.cord_id] = fitting
    return tuple(FoundCord(cord, last.get(cord.pk)) for cord in seen)
