"""What an order is issued with, frozen: the sheet printed today and the one printed again next month are the same."""

from datetime import datetime
from typing import Any

from fleet import lookups
from fleet.models import Bow, ReferenceSet
from fleet.vocabulary import MeasurementKind, Position
from service.house import CRITICAL_NEEDS, MEASURED_NEEDS
from service.instants import day_of
from service.models import CordWear, Need, NeedKind, StaleBow
from service.orders.steps import steps_for
from service.said import Figure, joined, say
from service.timing.geometry import DEFAULT_CORD_DIAMETER_M
from service.units import Dimension, Units, format_deviation
from service.wording import named

STRETCH_COEFFICIENTS = frozenset({"creep_rate", "settle_in_strain", "settle_in_shots_constant", "activation_energy"})
ORDER_OF_PAPER = [kind.value for kind in MeasurementKind]


def freeze(bow: Bow, needs: list[Need], reference_set: ReferenceSet | None, now: datetime) -> dict[str, Any]:
    """Everything on the sheet that is not the day or the technician, as plain values (SI)."""
    system = Units(bow.site.units)
    wears = list(
        CordWear.objects.filter(fitting__bow=bow).select_related("fitting__cord__spec").order_by("fitting__position")
    )
    kinds = [need.kind for need in needs]
    return {
        "bow": _bow(bow, now),
        "reasons": [{"kind": need.kind, "why": need.reason} for need in needs],
        "likely_cause": _likely_cause(wears, system) if set(kinds) & MEASURED_NEEDS else "",
        "reference": _reference(reference_set, bow.site.time_zone),
        "measurements": _measurements(reference_set),
        "cords": [_cord(wear, NeedKind.REPLACEMENT in kinds, reference_set, bow.site.time_zone) for wear in wears],
        "steps": steps_for(bow, kinds, reference_set, open_incidents(bow), system),
        "parts": _parts(needs),
        "assumed": _assumed(bow, wears),
        "second_person": any(kind in CRITICAL_NEEDS for kind in kinds),
        "wear_is_stale": StaleBow.objects.filter(bow=bow).exists(),
    }


def open_incidents(bow: Bow) -> set[str]:
    """The kinds of the incidents that still hold a bow."""
    return set(bow.incidents.filter(hold__released=None).values_list("kind", flat=True))


def _bow(bow: Bow, now: datetime) -> dict[str, Any]:
    sheet, set_up = bow.spec_sheet, lookups.set_up_at(bow, now)
    return {
        "tag": bow.tag,
        "serial": bow.serial,
        "model": str(sheet),
        "hand": bow.hand,
        "kind": sheet.bow_kind,
        "cam_system": sheet.cam_system,
        "draw_length_m": set_up.draw_length_m if set_up else None,
        "peak_weight_n": set_up.peak_weight_n if set_up else None,
    }


NO_STRETCH = format_deviation(0.0, Dimension.LENGTH, Units.IMPERIAL)


def _likely_cause(wears: list[CordWear], system: Units) -> str:
    """How far the estimate has each cord stretched since the reset: what the as-found readings are held against.

    A cord whose stretch reads as none is no cause of anything, and is left out.
    """
    told = {wear: _stretch(wear, system) for wear in wears}
    stretched = [
        say(
            "%(cord)s %(stretch)s since %(day)s",
            cord=named(Position(wear.fitting.position).label),
            stretch=Figure(stretch),
            day=wear.reset_at.date(),
        )
        for wear, stretch in told.items()
        if stretch != NO_STRETCH
    ]
    if not stretched:
        return ""
    if any(STRETCH_COEFFICIENTS & set(wear.assumed) for wear, stretch in told.items() if stretch != NO_STRETCH):
        return say("stretch by the estimate, partly assumed: %(cords)s", cords=joined("; ", stretched))
    return say("stretch by the estimate: %(cords)s", cords=joined("; ", stretched))


def _stretch(wear: CordWear, system: Units) -> str:
    return format_deviation(wear.strain * wear.fitting.cord.spec.length_m, Dimension.LENGTH, system)


def _reference(reference_set: ReferenceSet | None, zone: str) -> dict[str, Any] | None:
    if reference_set is None:
        return None
    return {
        "version": reference_set.version,
        "origin": reference_set.origin,
        "taken_on": day_of(reference_set.taken_at, zone).isoformat(),
    }


def _measurements(reference_set: ReferenceSet | None) -> list[dict[str, Any]]:
    if reference_set is None:
        return []
    rows = [
        {
            "kind": one.kind,
            "position": one.position,
            "value": one.value,
            "tolerance": one.tolerance,
            "tool": one.tool.code if one.tool else "",
        }
        for one in reference_set.measurements.select_related("tool")
        if one.kind != MeasurementKind.TWISTS
    ]
    return sorted(rows, key=lambda row: ORDER_OF_PAPER.index(str(row["kind"])))


def _cord(wear: CordWear, replaced: bool, reference_set: ReferenceSet | None, zone: str) -> dict[str, Any]:
    fitting = wear.fitting
    latest = fitting.resets.exclude(half_twists=None).order_by("-at").first()
    return {
        "fitting": fitting.pk,
        "position": fitting.position,
        "spec": fitting.cord.spec.code,
        "lot": fitting.cord.lot,
        "serial": fitting.cord.serial,
        "fitted_on": day_of(fitting.fitted_at, zone).isoformat(),
        "life": [wear.life_shots, wear.life_time, wear.life_heat],
        "unknown_use": fitting.cord.prior_use == "unknown",
        "half_twists": latest.half_twists if latest else fitting.half_twists,
        "reference_turns": _reference_turns(reference_set, fitting.position),
        "replace": replaced,
        "assumed": bool(wear.assumed),
    }


def _reference_turns(reference_set: ReferenceSet | None, position: str) -> float | None:
    if reference_set is None:
        return None
    for one in reference_set.measurements.all():
        if one.kind == MeasurementKind.TWISTS and one.position == position:
            return one.value
    return None


def _parts(needs: list[Need]) -> list[dict[str, Any]]:
    parts: dict[str, int] = {}
    for need in needs:
        for code, count in need.parts.items():
            parts[code] = max(parts.get(code, 0), count)
    return [{"spec": code, "quantity": count} for code, count in sorted(parts.items())]


def _assumed(bow: Bow, wears: list[CordWear]) -> list[str]:
    """What the figures on the sheet rest on that nobody has measured or published."""
    names = sorted({name for wear in wears for name in wear.assumed})
    if any(wear.fitting.cord.spec.diameter_m is None for wear in wears):
        names.append(f"cord diameter {DEFAULT_CORD_DIAMETER_M * 1000:.1f} mm")
    return names
