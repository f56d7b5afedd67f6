"""Why this date: the chain from a cord's events to its dates, with numbers and sources, as a readable account."""

import math
from dataclasses import dataclass

from django.db.models import Count, Max, Min, Sum

from fleet.models import Fitting
from fleet.vocabulary import Position
from service.bow_facts import drift_told
from service.gather import coefficients
from service.models import BowUse, CordWear, SiteUse, SpecLife
from service.orders.wording import measured
from service.units import Units
from service.wear.coefficients import HOURS_PER_MONTH, Coefficient, Fibre, heat_weight

USED_COEFFICIENTS = (
    "load_exponent",
    "weibull_shape",
    "activation_energy",
    "reference_temperature",
    "shelf_fraction",
    "shot_wear_log_sd",
    "time_wear_log_sd",
    "settle_in_strain",
    "settle_in_shots_constant",
    "creep_rate",
    "creep_log_sd",
)
NINETY_PERCENT = 1.6449  # standard normal, 95 % point
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True)
class Paragraph:
    """One link of the chain."""

    title: str
    lines: tuple[str, ...]


def account_of(wear: CordWear) -> list[Paragraph]:
    """The whole account of one fitted cord, from what it is to its dates."""
    return [
        _cord(wear),
        _shots(wear),
        _life(wear),
        _coefficients(wear),
        _point(wear),
        _use(wear),
        _dates(wear),
        _timing(wear),
    ]


def _cord(wear: CordWear) -> Paragraph:
    fitting: Fitting = wear.fitting
    cord, spec = fitting.cord, fitting.cord.spec
    before = {
        "none": "new when it was fitted",
        "known": (
            f"used before the book began: {cord.prior_shots:.0f} ± {cord.prior_shots_sd:.0f} shots, "
            f"{cord.prior_tension_h:.0f} h under tension, "
            f"{cord.prior_heat_h:.0f} ± {cord.prior_heat_h_sd:.0f} h of heat"
        ),
        "unknown": "its use before the book began is unknown: inspected before hire",
    }[cord.prior_use]
    return Paragraph(
        f"{Position(fitting.position).label} {cord.serial} of {fitting.bow.tag}",
        (
            f"{spec.code}: {spec.get_fibre_display()}, {spec.strands} strands, rated {spec.rated_shots} shots / "
            f"{spec.rated_months:g} months; fitted {fitting.fitted_at:%Y-%m-%d %H:%M} UTC; {before}",
        ),
    )


def _shots(wear: CordWear) -> Paragraph:
    fitting = wear.fitting
    entries = fitting.bow.shots.filter(superseded_at=None, start__gte=fitting.fitted_at)
    seen = entries.aggregate(entries=Count("pk"), shots=Sum("count"), first=Min("start"), last=Max("end"))
    lines = [f"{seen['entries']} entries, {seen['shots'] or 0} shots since it was fitted on this bow"]
    if seen["entries"]:
        lines.append(f"the first {seen['first']:%Y-%m-%d}, the last {seen['last']:%Y-%m-%d}")
    lines.append(f"weighted for draw weight: {wear.shots_weighted:.1f} shots")
    parked = fitting.bow.parkings.filter(start__gte=fitting.fitted_at)
    stays = fitting.bow.stays.filter(start__gte=fitting.fitted_at).count()
    lines.append(f"{stays} stays and {parked.count()} times in a parked vehicle since then")
    if wear.hottest_c is not None:
        lines.append(f"the hottest it met: {wear.hottest_c:.1f} °C")
    return Paragraph("What happened to it", tuple(lines))


def _life(wear: CordWear) -> Paragraph:
    spec = wear.fitting.cord.spec
    own = coefficients().of(spec.pk)
    phi, rated_h = heat_weight(Fibre(spec.fibre), own).value, spec.rated_months * HOURS_PER_MONTH
    shelf = own["shelf_fraction"].value
    return Paragraph(
        "Life used (linear damage: Palmgren 1924, Miner 1945)",
        (
            f"shots {wear.shots_weighted:.1f} / {spec.rated_shots} = {wear.life_shots:.4f}",
            f"time ({wear.tension_h:.1f} h under tension + {shelf:g} x {wear.shelf_h:.1f} h on the shelf) / "
            f"{rated_h:.0f} h = {wear.life_time:.4f}",
            f"heat {phi:g} x ({wear.heat_h:.1f} h at 23 °C - {wear.tension_h:.1f} h) / {rated_h:.0f} h = "
            f"{wear.life_heat:.4f}",
            f"together {wear.life_used:.4f}, as of {wear.as_of:%Y-%m-%d %H:%M} UTC",
        ),
    )


def _coefficients(wear: CordWear) -> Paragraph:
    spec = wear.fitting.cord.spec
    own = coefficients().of(spec.pk)
    used = [own[name] for name in USED_COEFFICIENTS]
    used.append(heat_weight(Fibre(spec.fibre), own))
    return Paragraph("The coefficients that this rests on", tuple(told_coefficient(one) for one in used))


def told_coefficient(one: Coefficient) -> str:
    """A coefficient with its unit, label and source."""
    return f"{one.name.replace('_', ' ')} {one.value:g} {one.unit} [{one.label}]: {one.source}"


def _point(wear: CordWear) -> Paragraph:
    learned = SpecLife.objects.filter(cord_spec=wear.fitting.cord.spec).first()
    lines = [wear.point_reason, wear.inspect_reason]
    if learned is not None:
        lines.append(learned.account)
    return Paragraph("When it is to be replaced, and looked at", tuple(lines))


def _use(wear: CordWear) -> Paragraph:
    bow = wear.fitting.bow
    rhythm, habit = SiteUse.objects.filter(site=bow.site).first(), BowUse.objects.filter(bow=bow).first()
    if rhythm is None or habit is None:
        return Paragraph(
            "Use ahead", ("nothing learned yet: the house's assumed use stands in until the next rebuild",)
        )
    weekdays = ", ".join(f"{day} x{factor:.2f}" for day, factor in zip(WEEKDAYS, rhythm.weekday, strict=True))
    season = "learned" if rhythm.season_learned else "not learned yet (under a year of history)"
    return Paragraph(
        "Use ahead (discounted gamma-Poisson: West & Harrison 1997, 10.8)",
        (
            f"{habit.shape / habit.inverse_scale:.2f} sessions per ordinary open day, worth "
            f"{habit.inverse_scale:.1f} days of history; {habit.shots_mean:.0f} shots a session",
            f"weekdays {weekdays}; season {season}",
            f"together {wear.shots_per_day:.1f} weighted shots a day over the coming year; life used grows by "
            f"{wear.life_per_day:.5f} a day",
        ),
    )


def _dates(wear: CordWear) -> Paragraph:
    def shown(day: object) -> str:
        return str(day) if day else "beyond two years"

    return Paragraph(
        "The date: the day on which life used reaches the replacement point, under uncertain use and coefficients",
        (
            f"10 %: {shown(wear.replace_from)}; 50 %: {shown(wear.replace_on)}; 90 %: {shown(wear.replace_until)}",
            wear.replace_basis,
        ),
    )


def told_creep(wear: CordWear) -> str:
    """The cord's creep rate with its 90 % interval, and whether it was learned from this cord or is the coefficient."""
    own = coefficients().of(wear.fitting.cord.spec_id)
    before, reach = own["creep_rate"].value, math.exp(NINETY_PERCENT * wear.creep_log_sd)
    rate = (
        f"creep {wear.creep_per_month * 100:.4f} % a month at 23 °C "
        f"(90 %: {wear.creep_per_month / reach * 100:.4f} to {wear.creep_per_month * reach * 100:.4f})"
    )
    if not wear.creep_pairs:
        return rate.replace("at 23 °C", "at 23 °C by the coefficient") + ": no as left and as found of this cord yet"
    pairs = f"{wear.creep_pairs} pair{'' if wear.creep_pairs == 1 else 's'} of as left and as found"
    return f"{rate}, learned from {pairs}; the coefficient says {before * 100:.4f} %"


def _timing(wear: CordWear) -> Paragraph:
    fitting = wear.fitting
    system = Units(fitting.bow.site.units)
    stretch = measured("axle_to_axle", wear.strain * fitting.cord.spec.length_m, system)
    lines = [
        f"stretched {wear.strain * 100:.4f} % ({stretch}) since the reset on {wear.reset_at:%Y-%m-%d}; creep adds "
        f"{wear.creep_strain_per_day * 100:.6f} % a day",
        told_creep(wear),
    ]
    drifts = fitting.bow.drifts.select_related("bow__site")
    lines += [drift_told(drift) for drift in drifts]
    return Paragraph("Timing", tuple(lines))
