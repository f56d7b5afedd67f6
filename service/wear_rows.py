"""One fitted cord's wear as a row to save: life used, replacement point and dates, inspection step, stretch."""

import math
from datetime import UTC, date, datetime, timedelta

import numpy as np

from fleet.models import Site
from fleet.vocabulary import Position
from service.cord_lives import CordLives
from service.dates_ahead import Bounds
from service.drift_ahead import Stretching
from service.instants import day_of, epoch_s
from service.learned import lives_in_order
from service.models import CordWear
from service.replacement_costs import costs_of
from service.said import figure, joined, say
from service.wear.coefficients import Fibre, Label, heat_weight
from service.wear.due import replacement_date
from service.wear.inspection import NextInspection, next_inspection
from service.wear.replacement import ReplacementPoint, replacement_point
from service.wear.weibull import WeibullLife
from service.wording import named

# What life used, its dates and the stretch of any cord rest on; a bow that was parked in a vehicle adds the cabin's.
WEAR_COEFFICIENTS = frozenset(
    {
        "activation_energy",
        "creep_log_sd",
        "creep_rate",
        "load_exponent",
        "settle_in_shots_constant",
        "settle_in_strain",
        "shelf_fraction",
        "shot_wear_log_sd",
        "time_wear_log_sd",
        "weibull_shape",
    }
)
# What a cord's own as-left/as-found pairs take the lead from.
CREEP_COEFFICIENTS = frozenset({"creep_log_sd", "creep_rate"})
CABIN_COEFFICIENTS = frozenset({"cabin_boot_factor", "cabin_cap", "cabin_shade_factor"})


def points_of(lives: CordLives) -> list[tuple[ReplacementPoint, WeibullLife]]:
    """Where to replace each cord, and the life it is planned with; computed once per cord spec and site."""
    known: dict[tuple[int, int], ReplacementPoint] = {}
    planned_with = lives_in_order(lives.rows, lives.fittings)
    found = []
    for fitting, life in zip(lives.fittings, planned_with, strict=True):
        spec, site = fitting.cord.spec, fitting.bow.site
        if (spec.pk, site.pk) not in known:
            costs = costs_of(spec, site, fitting.bow.spec_sheet.bow_kind)
            known[spec.pk, site.pk] = replacement_point(life, costs, site.replacement_cap, spec.hard_limit_life)
        found.append((known[spec.pk, site.pk], life))
    return found


def wear_row(
    lives: CordLives,
    stretch: Stretching,
    i: int,
    known: tuple[ReplacementPoint, WeibullLife],
    bounds: Bounds,
    now: datetime,
) -> CordWear:
    """The row of cord `i`."""
    fitting, (point, planned_with) = lives.fittings[i], known
    life, rate = lives.life.row(i), lives.life_per_day.row(i)
    look = _next_look(lives, i, planned_with)
    hottest = float(lives.total.max_temperature_c[i])
    replace_on, basis = _date(lives, i, point.life_used, bounds, now)
    return CordWear(
        fitting=fitting,
        as_of=now,
        shots_weighted=float(lives.total.weighted_shots[i]),
        tension_h=float(lives.total.tension_h[i]),
        shelf_h=float(lives.total.shelf_h[i]),
        heat_h=float(lives.total.heat_h[i]),
        hottest_c=None if np.isnan(hottest) else hottest,
        life_shots=life.shots,
        life_time=life.time,
        life_heat=life.heat,
        life_used=life.total,
        shots_per_day=float(lives.shots_per_day[i]),
        life_per_day=rate.total,
        replacement_point=point.life_used,
        point_reason=point.reason,
        replace_from=_no_later(bounds.early, replace_on),
        replace_on=replace_on,
        replace_until=bounds.late,
        replace_basis=basis,
        inspect_days=look.days,
        inspect_reason=look.reason,
        reset_at=datetime.fromtimestamp(float(lives.reset_s[i]), UTC),
        reset_shots=float(lives.at_reset.weighted_shots[i]),
        reset_heat_h=float(lives.at_reset.heat_h[i]),
        strain=float(stretch.strain[i]),
        creep_strain_per_day=float(stretch.creep_per_day[i]),
        creep_per_month=float(lives.creep.per_month[i]),
        creep_log_sd=float(lives.creep.log_sd[i]),
        creep_pairs=int(lives.creep.pairs[i]),
        reason=life.reason(named(Position(fitting.position).label)),
        assumed=assumed_names(lives, i),
    )


def assumed_names(lives: CordLives, i: int) -> list[str]:
    """The coefficients behind the figures of cord `i` that nobody has published or measured."""
    spec = lives.fittings[i].cord.spec
    table = lives.rows.coefficients.of(spec.pk)
    names = {*WEAR_COEFFICIENTS, heat_weight(Fibre(spec.fibre), table).name}
    if np.any(lives.rows.rows.parkings.bow == lives.cords.bow[i]):
        names |= CABIN_COEFFICIENTS
    if lives.creep.own_leads[i]:
        names -= CREEP_COEFFICIENTS
    return sorted(name for name in names if table[name].label is Label.ASSUMED)


def _next_look(lives: CordLives, i: int, planned_with: WeibullLife) -> NextInspection:
    site: Site = lives.fittings[i].bow.site
    return next_inspection(
        max(lives.life.row(i).total, 0.0),
        max(lives.life_per_day.row(i).total, 0.0),
        planned_with,
        site.undetected_risk_target,
        site.inspection_max_days,
    )


def _no_later(early: date | None, replace_on: date | None) -> date | None:
    """The 10 % date; the forecast tells none before today, so that of a date that has passed is that date."""
    return early if early is None or replace_on is None else min(early, replace_on)


def _passed_on(lives: CordLives, i: int, over: float, now: datetime) -> tuple[date, str]:
    fitting, rate = lives.fittings[i], lives.life_per_day.row(i).total
    zone = fitting.bow.site.time_zone
    today, fitted = day_of(now, zone), day_of(fitting.fitted_at, zone)
    days = min(over / rate if rate > 0.0 else 0.0, float((today - fitted).days))
    passed = today - timedelta(days=max(1, math.ceil(days)))
    return passed, say(
        "replacement point passed by %(over)s, about %(day)s at the mean rate of use: replace now",
        over=figure(over, ".2f"),
        day=passed,
    )


def _date(lives: CordLives, i: int, point: float, bounds: Bounds, now: datetime) -> tuple[date | None, str]:
    """The 50 % date; beyond the horizon of the forecast, the date at the mean rate, and it says so.

    A point that is reached already was reached on an earlier day, reckoned back at the mean rate: it is past its date.
    """
    over = lives.life.row(i).total - point
    if over >= 0.0:
        return _passed_on(lives, i, over, now)
    if bounds.middle is not None:
        early, late = (day or say("beyond two years") for day in (bounds.early, bounds.late))
        return bounds.middle, say(
            "50 %% date of the use forecast; 10 %% by %(early)s, 90 %% by %(late)s", early=early, late=late
        )
    due = replacement_date(
        lives.life.row(i), lives.life_per_day.row(i), float(lives.shots_per_day[i]), point, epoch_s(now)
    )
    zone = lives.fittings[i].bow.site.time_zone
    day = None if due.due_s is None else day_of(datetime.fromtimestamp(due.due_s, UTC), zone)
    return day, joined(": ", [say(due.label.value), due.reason])
