"""One bow's whole life as one list: everything that the register knows of it, the latest first."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import TextChoices
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext, pgettext

from fleet.models import Bow
from service.models import WorkOrder
from service.units import Dimension, Units, format_quantity, to_si
from service.wording import worded


class FactKind(TextChoices):
    """What a fact is about."""

    CORDS = "cords", gettext_lazy("cords")
    SHOTS = "shots", gettext_lazy("shots")
    PLACES = "places", gettext_lazy("places and heat")
    HIRES = "hires", gettext_lazy("hires and checks")
    HOLDS = "holds", gettext_lazy("incidents and holds")
    ORDERS = "orders", gettext_lazy("orders")
    SETTING = "setting", gettext_lazy("setting")


@dataclass(frozen=True)
class Fact:
    """One thing that happened: when, of which kind, in words, who wrote it down, and the order it belongs to."""

    at: datetime
    kind: FactKind
    told: str
    who: str = ""
    order_number: str = ""
    weighty: bool = False


Told = Callable[[Bow], Iterator[Fact]]


def life_of(bow: Bow, kind: str = "") -> list[Fact]:
    """Every fact of a bow, or those of one kind, the latest first. As many queries for a long life as for a short."""
    sources = {kind: _SOURCES[FactKind(kind)]} if kind in FactKind.values else _SOURCES
    facts = [fact for told in sources.values() for one in told for fact in one(bow)]
    return sorted(facts, key=lambda fact: fact.at, reverse=True)


def orders_with_a_page(bow: Bow) -> set[str]:
    """The numbers of its orders that can be opened: those signed on paper before the book began have no page."""
    return set(WorkOrder.objects.filter(bow=bow).values_list("number", flat=True))


def _fittings(bow: Bow) -> Iterator[Fact]:
    for one in bow.fittings.select_related("cord__spec", "fitted_by"):
        names = {"cord": one.get_position_display(), "serial": one.cord.serial, "spec": one.cord.spec.code}
        yield Fact(
            one.fitted_at, FactKind.CORDS, _("%(cord)s %(serial)s (%(spec)s) fitted") % names, str(one.fitted_by)
        )
        if one.removed_at is not None:
            why = ": ".join(filter(None, (one.get_removed_why_display(), one.get_finding_display())))
            told = _("%(cord)s %(serial)s taken off, %(why)s") % {**names, "why": why}
            yield Fact(one.removed_at, FactKind.CORDS, told, weighty=one.removed_why == "condemned")


def _shots(bow: Bow) -> Iterator[Fact]:
    for one in bow.shots.filter(superseded_at=None).select_related("entered_by"):
        told = ngettext("%(count)d shot, %(how)s", "%(count)d shots, %(how)s", one.count)
        known = {"count": one.count, "how": one.get_how_known_display()}
        yield Fact(one.end, FactKind.SHOTS, told % known, str(one.entered_by))


def _stays(bow: Bow) -> Iterator[Fact]:
    for one in bow.stays.select_related("place"):
        yield Fact(one.start, FactKind.PLACES, _("put at %(place)s") % {"place": one.place})


def _parkings(bow: Bow) -> Iterator[Fact]:
    system = Units(bow.site.units)
    for one in bow.parkings.all():
        measured = one.cabin_c if one.cabin_c is not None else one.outside_c
        shown = "–" if measured is None else format_quantity(to_si(measured, "c"), Dimension.TEMPERATURE, system)
        minutes = round((one.end - one.start).total_seconds() / 60)
        where = _("cabin") if one.cabin_c is not None else pgettext("in the open", "outside")
        told = _("in a parked vehicle for %(minutes)d min, %(where)s %(temperature)s")
        yield Fact(
            one.start, FactKind.PLACES, told % {"minutes": minutes, "where": where, "temperature": shown}, weighty=True
        )


def _relaxations(bow: Bow) -> Iterator[Fact]:
    for one in bow.relaxations.all():
        yield Fact(one.start, FactKind.PLACES, _("no tension: %(why)s") % {"why": one.get_why_display()})
        if one.end is not None:
            yield Fact(one.end, FactKind.PLACES, _("strung up again"))


def _hires(bow: Bow) -> Iterator[Fact]:
    for one in bow.hires.select_related("out_by", "back_by"):
        named = {"reference": one.reference}
        yield Fact(one.out_at, FactKind.HIRES, _("out under %(reference)s") % named, str(one.out_by))
        if one.back_at is not None:
            yield Fact(one.back_at, FactKind.HIRES, _("back from %(reference)s") % named, str(one.back_by or ""))


def _checks(bow: Bow) -> Iterator[Fact]:
    for one in bow.turnarounds.select_related("by"):
        told = _("checked between guests: %(verdict)s") % {"verdict": one.get_verdict_display()}
        yield Fact(one.at, FactKind.HIRES, told, str(one.by), weighty=one.verdict != "ready")


def _incidents(bow: Bow) -> Iterator[Fact]:
    for one in bow.incidents.select_related("reported_by"):
        told = ": ".join(filter(None, (one.get_kind_display(), one.note)))
        yield Fact(one.happened_at, FactKind.HOLDS, told, str(one.reported_by), weighty=True)


def _holds(bow: Bow) -> Iterator[Fact]:
    for one in bow.holds.select_related("by"):
        told = _("held, %(reason)s: %(detail)s") % {"reason": one.get_reason_display(), "detail": worded(one.detail)}
        yield Fact(one.since, FactKind.HOLDS, told, str(one.by), weighty=True)
    for release in bow.releases.select_related("by"):
        told = ": ".join(filter(None, (_("released"), release.note)))
        yield Fact(release.at, FactKind.HOLDS, told, str(release.by), release.order_number)


def _notices(bow: Bow) -> Iterator[Fact]:
    for one in bow.notices.select_related("answered_by").exclude(answered_at=None):
        if one.answered_at is not None:
            told = _("notice answered: %(answer)s") % {"answer": one.answer}
            yield Fact(one.answered_at, FactKind.HOLDS, told, str(one.answered_by))
    for put_off in bow.deferrals.select_related("by"):
        told = _("%(need)s put off to %(day)s: %(why)s")
        named = {"need": put_off.need_kind.replace("_", " "), "day": put_off.until, "why": put_off.why}
        yield Fact(put_off.at, FactKind.HOLDS, told % named, str(put_off.by), weighty=True)


def _orders(bow: Bow) -> Iterator[Fact]:
    for one in WorkOrder.objects.filter(bow=bow).select_related("issued_by").prefetch_related("needs"):
        work = ", ".join(str(need.get_kind_display()) for need in one.needs.all())
        told = _("order issued: %(work)s") % {"work": work or "–"}
        yield Fact(one.issued_at, FactKind.ORDERS, told, str(one.issued_by), one.number)
    for result in bow.results.select_related("performed_by", "released_by"):
        told = ": ".join(filter(None, (_("work signed"), result.note)))
        yield Fact(result.signed_at, FactKind.ORDERS, told, str(result.performed_by), result.order_number)
        if result.released_at is not None:
            who = str(result.released_by or "")
            yield Fact(result.released_at, FactKind.ORDERS, _("order closed"), who, result.order_number)


def _settings(bow: Bow) -> Iterator[Fact]:
    system = Units(bow.site.units)
    for one in bow.set_ups.all():
        told = _("set up to %(length)s true draw, %(weight)s peak") % {
            "length": format_quantity(one.draw_length_m, Dimension.LENGTH, system),
            "weight": format_quantity(one.peak_weight_n, Dimension.FORCE, system),
        }
        yield Fact(one.since, FactKind.SETTING, told)
    for references in bow.reference_sets.select_related("taken_by"):
        told = _("references, version %(version)d: %(origin)s") % {
            "version": references.version,
            "origin": references.get_origin_display(),
        }
        yield Fact(references.taken_at, FactKind.SETTING, told, str(references.taken_by))


def _ends(bow: Bow) -> Iterator[Fact]:
    retirement: Any = getattr(bow, "retirement", None)
    if retirement is not None:
        yield Fact(retirement.at, FactKind.HOLDS, _("retired: %(why)s") % {"why": retirement.why}, weighty=True)


_SOURCES: dict[str, tuple[Told, ...]] = {
    FactKind.CORDS: (_fittings,),
    FactKind.SHOTS: (_shots,),
    FactKind.PLACES: (_stays, _parkings, _relaxations),
    FactKind.HIRES: (_hires, _checks),
    FactKind.HOLDS: (_incidents, _holds, _notices, _ends),
    FactKind.ORDERS: (_orders,),
    FactKind.SETTING: (_settings,),
}
