"""Why this date: the chain from a cord's events to its dates, with numbers and sources, as a readable account."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import Count, Max, Min, Q, Sum
from django.utils.dates import WEEKDAYS_ABBR
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.models import Fitting
from fleet.vocabulary import Position
from service.bow_facts import drift_told
from service.coefficient_names import coefficient_name, label_name, unit_name
from service.gather import Coefficients, coefficients
from service.heat_alarms import shown_celsius
from service.models import BowUse, CordWear, SiteUse, SpecLife
from service.orders.wording import estimated
from service.said import figure
from service.units import Units
from service.unread_heat import unread_hours
from service.wear.coefficients import HOURS_PER_MONTH, Coefficient, Fibre, heat_weight
from service.wording import worded

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
ZERO_CELSIUS_K = 273.15


@dataclass(frozen=True)
class Paragraph:
    """One link of the chain."""

    title: str
    lines: tuple[str, ...]


def account_of(wear: CordWear, tables: Coefficients | None = None) -> list[Paragraph]:
    """The whole account of one fitted cord, from what it is to its dates.

    `tables`: the coefficients in force, where they are known already.
    """
    tables = tables or coefficients()
    own = tables.of(wear.fitting.cord.spec_id)
    return [
        _cord(wear),
        _shots(wear, tables),
        _life(wear, own),
        _coefficients(wear, own),
        _point(wear),
        _use(wear),
        _dates(wear),
        _timing(wear, own),
    ]


def _cord(wear: CordWear) -> Paragraph:
    fitting: Fitting = wear.fitting
    cord, spec = fitting.cord, fitting.cord.spec
    told = {
        "spec": spec.code,
        "fibre": spec.get_fibre_display(),
        "strands": spec.strands,
        "shots": spec.rated_shots,
        "months": worded(figure(spec.rated_months)),
        "when": _moment(fitting.fitted_at, fitting),
    }
    made = _("%(spec)s: %(fibre)s, %(strands)d strands, rated %(shots)d shots / %(months)s months; fitted %(when)s")
    title = _("%(cord)s %(serial)s of %(tag)s") % {
        "cord": Position(fitting.position).label,
        "serial": cord.serial,
        "tag": fitting.bow.tag,
    }
    return Paragraph(title, (made % told, _before(wear)))


def _before(wear: CordWear) -> str:
    cord = wear.fitting.cord
    if cord.prior_use == "none":
        return _("new when it was first fitted")
    if cord.prior_use == "unknown":
        return _("its use before the book began is unknown: inspected before hire")
    told = _(
        "used before the book began: %(shots).0f ± %(shots_sd).0f shots, %(tension).0f h under tension, "
        "%(heat).0f ± %(heat_sd).0f h of heat"
    )
    return told % {
        "shots": cord.prior_shots,
        "shots_sd": cord.prior_shots_sd,
        "tension": cord.prior_tension_h,
        "heat": cord.prior_heat_h,
        "heat_sd": cord.prior_heat_h_sd,
    }


def _shots(wear: CordWear, tables: Coefficients) -> Paragraph:
    fitting = wear.fitting
    entries = fitting.bow.shots.filter(superseded_at=None, start__gte=fitting.fitted_at)
    seen = entries.aggregate(entries=Count("pk"), shots=Sum("count"), first=Min("start"), last=Max("end"))
    counted = {"entries": seen["entries"], "shots": seen["shots"] or 0}
    lines = [_("%(entries)d entries, %(shots)d shots since it was fitted on this bow") % counted]
    if seen["entries"]:
        spanned = {"first": _day(seen["first"], fitting), "last": _day(seen["last"], fitting)}
        lines.append(_("the first on %(first)s, the last on %(last)s") % spanned)
    lines.append(_("weighted for draw weight: %(shots).1f shots") % {"shots": wear.shots_weighted})
    # A stay or a parking counts that reaches into the time since it was fitted.
    since = Q(end=None) | Q(end__gt=fitting.fitted_at)
    there = {"stays": fitting.bow.stays.filter(since).count(), "parked": fitting.bow.parkings.filter(since).count()}
    lines.append(_("since then: stays at places %(stays)d, times in a parked vehicle %(parked)d") % there)
    lines += _unread(wear, tables)
    if wear.hottest_c is not None:
        lines.append(_("the hottest it met: %(hottest)s") % {"hottest": _celsius(wear.hottest_c, fitting)})
    return Paragraph(_("What happened to it"), tuple(lines))


def _unread(wear: CordWear, tables: Coefficients) -> list[str]:
    """What of its heat was not measured; nothing to say where every hour was read."""
    fitting = wear.fitting
    hours = unread_hours(fitting.bow, fitting.fitted_at, wear.as_of, tables.house["max_bridged_gap"].value)
    if not hours > 0.0:
        return []
    told = {"hours": hours, "celsius": _celsius(fitting.bow.site.indoor_temperature_c, fitting)}
    return [_("%(hours).1f h at places without a reading, taken at the site's indoor temperature, %(celsius)s") % told]


def _life(wear: CordWear, own: Mapping[str, Coefficient]) -> Paragraph:
    spec = wear.fitting.cord.spec
    rated_h = spec.rated_months * HOURS_PER_MONTH
    told = {
        "shots": wear.shots_weighted,
        "rated_shots": spec.rated_shots,
        "by_shots": wear.life_shots,
        "tension": wear.tension_h,
        "shelf_fraction": worded(figure(own["shelf_fraction"].value)),
        "shelf": wear.shelf_h,
        "rated_h": rated_h,
        "by_time": wear.life_time,
        "phi": worded(figure(heat_weight(Fibre(spec.fibre), own).value)),
        "heat": wear.heat_h,
        "reference": f"{own['reference_temperature'].value - ZERO_CELSIUS_K:.0f}",
        "by_heat": wear.life_heat,
        "life": wear.life_used,
        "when": _moment(wear.as_of, wear.fitting),
    }
    lines = (
        _("shots %(shots).1f / %(rated_shots)d = %(by_shots).4f"),
        _(
            "time (%(tension).1f h under tension + %(shelf_fraction)s x %(shelf).1f h on the shelf) / %(rated_h).0f h "
            "= %(by_time).4f"
        ),
        _("heat %(phi)s x (%(heat).1f h at %(reference)s °C - %(tension).1f h) / %(rated_h).0f h = %(by_heat).4f"),
        _("together %(life).4f, as of %(when)s"),
    )
    return Paragraph(_("Life used (linear damage: Palmgren 1924, Miner 1945)"), tuple(line % told for line in lines))


def _coefficients(wear: CordWear, own: Mapping[str, Coefficient]) -> Paragraph:
    spec = wear.fitting.cord.spec
    used = [own[name] for name in USED_COEFFICIENTS]
    used.append(heat_weight(Fibre(spec.fibre), own))
    return Paragraph(_("The coefficients that this rests on"), tuple(told_coefficient(one) for one in used))


def told_coefficient(one: Coefficient) -> str:
    """A coefficient with its unit, label and source."""
    number = worded(figure(one.value))
    value = number if one.unit == "1" else f"{number} {unit_name(one.unit)}"
    return f"{coefficient_name(one.name)} {value} [{label_name(one.label)}]: {worded(one.source)}"


def _point(wear: CordWear) -> Paragraph:
    learned = SpecLife.objects.filter(cord_spec=wear.fitting.cord.spec).first()
    lines = [wear.point_reason, wear.inspect_reason]
    if learned is not None:
        lines.append(learned.account)
    return Paragraph(_("When it is to be replaced, and looked at"), tuple(lines))


def _use(wear: CordWear) -> Paragraph:
    bow = wear.fitting.bow
    rhythm, habit = SiteUse.objects.filter(site=bow.site).first(), BowUse.objects.filter(bow=bow).first()
    if rhythm is None or habit is None:
        none = _("nothing learned yet: the house's assumed use stands in until the next rebuild")
        return Paragraph(_("Use ahead"), (none,))
    opens = sorted(bow.site.opening_weekdays or range(len(rhythm.weekday)))
    weekdays = ", ".join(f"{WEEKDAYS_ABBR[day]} x{worded(figure(rhythm.weekday[day], '.2f'))}" for day in opens)
    told = {
        "sessions": habit.shape / habit.inverse_scale,
        "days": habit.inverse_scale,
        "shots": habit.shots_mean,
        "weekdays": weekdays,
        "season": _("learned") if rhythm.season_learned else _("not learned yet (under a year of history)"),
        "per_day": wear.shots_per_day,
        "life": wear.life_per_day,
    }
    lines = (
        _(
            "%(sessions).2f sessions per ordinary open day, worth %(days).1f days of history; %(shots).0f shots a "
            "session"
        ),
        _("weekdays %(weekdays)s; season %(season)s"),
        _("together %(per_day).1f weighted shots a day over the coming year; life used grows by %(life).5f a day"),
    )
    title = _("Use ahead (discounted gamma-Poisson: West & Harrison 1997, 10.8)")
    return Paragraph(title, tuple(line % told for line in lines))


def _dates(wear: CordWear) -> Paragraph:
    def shown(day: date | None) -> str:
        return date_format(day, "DATE_FORMAT") if day else _("beyond two years")

    bounds = {"early": shown(wear.replace_from), "middle": shown(wear.replace_on), "late": shown(wear.replace_until)}
    title = _(
        "The date: the day on which life used reaches the replacement point, under uncertain use and coefficients"
    )
    if wear.life_used >= wear.replacement_point:
        # It is past: what the forecast says of days to come no longer matters.
        return Paragraph(title, (wear.replace_basis,))
    return Paragraph(title, (_("10 %%: %(early)s; 50 %%: %(middle)s; 90 %%: %(late)s") % bounds, wear.replace_basis))


def _celsius(celsius: float, fitting: Fitting) -> str:
    return shown_celsius(Units(fitting.bow.site.units), celsius)


def _moment(moment: datetime, fitting: Fitting) -> str:
    """An instant in the site's zone."""
    return date_format(moment.astimezone(ZoneInfo(fitting.bow.site.time_zone)), "DATETIME_FORMAT")


def _day(moment: datetime, fitting: Fitting) -> str:
    """The day of an instant in the site's zone."""
    return date_format(moment.astimezone(ZoneInfo(fitting.bow.site.time_zone)), "DATE_FORMAT")


def told_creep(wear: CordWear, own: Mapping[str, Coefficient]) -> str:
    """The cord's creep rate with its 90 % interval, and whether it was learned from this cord or is the coefficient."""
    reach = math.exp(NINETY_PERCENT * wear.creep_log_sd)
    told = {
        "rate": 100 * wear.creep_per_month,
        "low": 100 * wear.creep_per_month / reach,
        "high": 100 * wear.creep_per_month * reach,
        "before": 100 * own["creep_rate"].value,
        "reference": f"{own['reference_temperature'].value - ZERO_CELSIUS_K:.0f}",
    }
    if not wear.creep_pairs:
        none = _(
            "creep %(rate).4f %% a month at %(reference)s °C by the coefficient (90 %%: %(low).4f to %(high).4f): no "
            "as left and as found of this cord yet"
        )
        return none % told
    learned = ngettext(
        "creep %(rate).4f %% a month at %(reference)s °C (90 %%: %(low).4f to %(high).4f), learned from "
        "%(pairs)d pair of as left and as found; the coefficient says %(before).4f %%",
        "creep %(rate).4f %% a month at %(reference)s °C (90 %%: %(low).4f to %(high).4f), learned from "
        "%(pairs)d pairs of as left and as found; the coefficient says %(before).4f %%",
        wear.creep_pairs,
    )
    return learned % {**told, "pairs": wear.creep_pairs}


def _timing(wear: CordWear, own: Mapping[str, Coefficient]) -> Paragraph:
    fitting = wear.fitting
    system = Units(fitting.bow.site.units)
    stretch = estimated("axle_to_axle", wear.strain * fitting.cord.spec.length_m, system)
    told = {
        "percent": 100 * wear.strain,
        "stretch": stretch,
        "day": _day(wear.reset_at, fitting),
        "creep": 100 * wear.creep_strain_per_day,
    }
    lines = [
        _("stretched %(percent).4f %% (%(stretch)s) since the reset on %(day)s; creep adds %(creep).6f %% a day")
        % told,
        told_creep(wear, own),
    ]
    drifts = fitting.bow.drifts.select_related("bow__site")
    lines += [drift_told(drift) for drift in drifts]
    return Paragraph(_("Timing"), tuple(lines))
