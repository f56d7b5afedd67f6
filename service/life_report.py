"""What the shop's history says of one cord spec: curves, fit and belief side by side, ready to be shown."""

from dataclasses import dataclass, replace

import numpy as np

from service.plot import Axes, Tick
from service.spec_histories import SpecHistory
from service.wear.arrays import Floats
from service.wear.kaplan_meier import SurvivalCurve, kaplan_meier
from service.wear.learning import LifePosterior, LifePrior, Outcome
from service.wear.weibull import Interval, LifeData, NoFit, WeibullFit, WeibullLife, fit

BAND_LEVEL = 0.9
FIT_LEVEL = 0.95
CURVE_POINTS = 61
LEAST_RIGHT = 1.5
ROOM_TO_THE_RIGHT = 1.1
TABLE_STEP = 0.125
MOST_TABLE_ROWS = 16


@dataclass(frozen=True)
class FitTold:
    """The maximum-likelihood fit with its intervals (B10: delta method, others: likelihood ratio).

    `none_because`: why there is no fit, where there is none.
    """

    life: WeibullLife | None
    b10: Interval | None
    eta: Interval | None
    beta: Interval | None
    none_because: str


@dataclass(frozen=True)
class Row:
    """The curves at one life used, as shares still good.

    What was seen is None past the last cord, its band before the first failure too.
    """

    life_used: float
    at_risk: int
    seen: float | None
    seen_low: float | None
    seen_high: float | None
    prior: float
    learned: float
    learned_low: float
    learned_high: float


@dataclass(frozen=True)
class Picture:
    """The same as paths in the units of `service.plot`."""

    x_ticks: list[Tick]
    y_ticks: list[Tick]
    rated: float
    seen: str
    seen_band: str
    seen_early: str
    censored: list[tuple[float, float]]
    prior: str
    learned: str
    learned_band: str
    fitted: str


@dataclass(frozen=True)
class LifeReport:
    """Everything that the page shows; lives are Weibull in life used, 1 being rated life.

    `counts`: cords by how their story stands. `left_out`: cords whose use before the book began is unknown.
    `worth_cords`: condemned cords that the belief before any history is worth.
    """

    prior_leads: bool
    worth_cords: float
    counts: dict[str, int]
    left_out: int
    prior: WeibullLife
    learned: WeibullLife
    b10: Interval
    eta: Interval
    beta: Interval
    fit: FitTold
    widest_gap: float
    rows: list[Row]
    picture: Picture

    @property
    def failures(self) -> int:
        """Condemned cords that the estimate rests on."""
        return self.counts[Outcome.CONDEMNED]


def report_of(found: SpecHistory) -> LifeReport:
    """The report of a cord spec's history."""
    posterior, data = found.posterior, found.history.data
    prior, learned = _prior_life(posterior.prior), posterior.planning_life
    seen = kaplan_meier(data, BAND_LEVEL)
    fitted = _fit(data)
    axes = Axes(max(LEAST_RIGHT, ROOM_TO_THE_RIGHT * _last_seen(data)))
    grid = np.linspace(0.0, axes.right, CURVE_POINTS)
    band = posterior.survival_band(grid, BAND_LEVEL)
    condemned = np.isfinite(data.upper)
    return LifeReport(
        prior_leads=posterior.prior_leads,
        worth_cords=posterior.prior.worth_cords,
        counts={str(outcome): count for outcome, count in posterior.history.counts.items()},
        left_out=posterior.history.left_out,
        prior=prior,
        learned=learned,
        b10=posterior.credible_b10(BAND_LEVEL),
        eta=posterior.credible_eta(BAND_LEVEL),
        beta=posterior.credible_beta(BAND_LEVEL),
        fit=fitted,
        widest_gap=float(np.max((data.upper - data.lower)[condemned], initial=0.0)),
        rows=_rows(posterior, data, seen, prior, axes.right),
        picture=_picture(axes, grid, band, data, seen, prior, learned, fitted),
    )


def _prior_life(prior: LifePrior) -> WeibullLife:
    return WeibullLife.from_b10(prior.b10, prior.beta)


def _fit(data: LifeData) -> FitTold:
    try:
        found: WeibullFit = fit(data)
    except NoFit as why:
        return FitTold(None, None, None, None, str(why))
    return FitTold(
        found.life, found.log_wald_b10(FIT_LEVEL), found.profile_eta(FIT_LEVEL), found.profile_beta(FIT_LEVEL), ""
    )


def _last_seen(data: LifeData) -> float:
    """The highest life used at which a cord was still watched: beyond it the shop has seen nothing."""
    return float(np.max(np.where(np.isfinite(data.upper), data.upper, data.lower), initial=0.0))


def _early(data: LifeData) -> LifeData:
    """Every finding put back to the last check that found the cord good: the curve lies between this one and that."""
    found = np.isfinite(data.upper)
    # A finding at age 0 would be no life at all.
    return replace(data, upper=np.where(found, np.maximum(data.lower, np.finfo(np.float64).tiny), np.inf))


def _picture(
    axes: Axes,
    grid: Floats,
    band: Floats,
    data: LifeData,
    seen: SurvivalCurve,
    prior: WeibullLife,
    learned: WeibullLife,
    fitted: FitTold,
) -> Picture:
    early, last = kaplan_meier(_early(data), BAND_LEVEL), _last_seen(data)
    return Picture(
        x_ticks=axes.x_ticks(),
        y_ticks=axes.y_ticks_percent(),
        rated=axes.x(1.0),
        seen=axes.steps(seen.age, seen.survival, last),
        seen_band=axes.step_band(seen.age, seen.lower, seen.upper, last) if seen.age.size else "",
        seen_early=axes.steps(early.age, early.survival, last) if early.age.size else "",
        censored=axes.marks(seen.censor_age, seen.censor_survival),
        prior=axes.line(grid, prior.survival(grid)),
        learned=axes.line(grid, learned.survival(grid)),
        learned_band=axes.band(grid, band[0], band[2]),
        fitted=axes.line(grid, fitted.life.survival(grid)) if fitted.life else "",
    )


def _seen_at(seen: SurvivalCurve, at: int) -> tuple[float, float | None, float | None]:
    """The curve and its band after step `at`; before the first failure the data say nothing of its uncertainty."""
    return (float(seen.survival[at]), float(seen.lower[at]), float(seen.upper[at])) if at >= 0 else (1.0, None, None)


def _rows(posterior: LifePosterior, data: LifeData, seen: SurvivalCurve, prior: WeibullLife, right: float) -> list[Row]:
    ages = np.arange(TABLE_STEP, right + TABLE_STEP / 100.0, TABLE_STEP)
    ages = ages[:: max(1, -(-ages.size // MOST_TABLE_ROWS))]
    band = posterior.survival_band(ages, BAND_LEVEL)
    end = np.where(np.isfinite(data.upper), data.upper, data.lower)
    last = _last_seen(data)
    rows = []
    for i, age in enumerate(ages.tolist()):
        at = int(np.searchsorted(seen.age, age, side="right")) - 1
        values = _seen_at(seen, at) if age <= last else (None, None, None)
        at_risk = int(np.count_nonzero((data.entry < age) & (end >= age)))
        believed = (float(band[1, i]), float(band[0, i]), float(band[2, i]))
        rows.append(Row(age, at_risk, values[0], values[1], values[2], float(prior.survival(age)), *believed))
    return rows
