"""An invented bow's half year on real weather: the files that a shop would take in, and what they mean, worked out.

Weather: the TMY3 year of Greensboro NC (723170) that pvlib ships (U.S. NREL, Typical Meteorological Year 3), its
dry-bulb temperature as a rack's logger. Register and shots are written for the purpose. Nothing of the service is used:
the coefficients are those of the design (assumed or common practice, as labelled there).
"""

import csv
import math
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

import numpy as np
import openpyxl

NOW = datetime(2026, 7, 1, 15, 0, tzinfo=UTC)
FITTED = datetime(2026, 2, 1, 17, 0, tzinfo=UTC)
MEASURED = datetime(2026, 2, 20, 17, 0, tzinfo=UTC)
MADE = date(2026, 1, 2)
TODAY = date(2026, 7, 1)
TAG, RACK, SITE = "FH-900", "rack A", "fenhollow"
CORDS = {"string": ("OC-S58", 58.25), "upper cable": ("OC-U36", 36.5), "lower cable": ("OC-L36", 36.5)}
"""Position -> cord spec and length in inches, as in the sample specs: HMPE, 5,000 shots, 12 months."""
RATED_SHOTS, RATED_H = 5_000, 12 * 365.25 / 12 * 24
GAS_CONSTANT, ENERGY, REFERENCE_K = 8.314462618, 118_000.0, 296.15
SHELF_FRACTION = 0.25
SETTLE_STRAIN, SETTLE_SHOTS, CREEP_PER_MONTH_H = 0.001, 60.0, 0.0002 / (365.25 / 12 * 24)
SHOT_LOG_SD, TIME_LOG_SD = 0.10, 0.15
RATE_DAYS = 90
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def dry_bulb() -> list[float]:
    """8,760 hourly dry-bulb temperatures (degC)."""
    with files("pvlib").joinpath("data/723170TYA.CSV").open() as lines:
        next(lines)
        return [float(row["Dry-bulb (C)"]) for row in csv.DictReader(lines)]


def factor(celsius: float) -> float:
    """Arrhenius acceleration factor against 23 degC."""
    return math.exp(ENERGY / GAS_CONSTANT * (1 / REFERENCE_K - 1 / (celsius + 273.15)))


@dataclass
class Season:
    """Hourly readings of a year up to now, and sessions since the cords were fitted."""

    readings: list[tuple[datetime, float]] = field(default_factory=list)
    sessions: list[tuple[datetime, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        weather, year = dry_bulb(), datetime(2026, 1, 1, tzinfo=UTC)
        for back in range(8_760, -1, -1):
            at = NOW - back * HOUR
            self.readings.append((at, weather[int((at - year) / HOUR) % len(weather)]))
        draw = np.random.default_rng(20)
        day = FITTED.date() + DAY
        while day < TODAY:
            # Mondays are closed; a hire session on every other open day.
            if day.weekday() != 0 and draw.random() < 0.5:
                self.sessions.append((datetime.combine(day, time(18), tzinfo=UTC), int(draw.integers(25, 61))))
            day += DAY

    def shots_until(self, at: datetime) -> int:
        return sum(count for start, count in self.sessions if start + HOUR <= at)

    def heat_h_between(self, start: datetime, end: datetime) -> float:
        """Trapezoid of the acceleration factor between two full hours (h at 23 degC)."""
        inside = [(at, factor(celsius)) for at, celsius in self.readings if start <= at <= end]
        assert inside[0][0] == start and inside[-1][0] == end
        return sum((a + b) / 2 for (_, a), (_, b) in pairwise(inside))

    def life(self) -> tuple[float, float, float]:
        """Shares of rated life of shots, time and heat; the same for every cord of the set."""
        tension_h = (NOW - FITTED) / HOUR
        shelf_h = (FITTED - datetime.combine(MADE, time(12), tzinfo=UTC)) / HOUR
        return (
            self.shots_until(NOW) / RATED_SHOTS,
            (tension_h + SHELF_FRACTION * shelf_h) / RATED_H,
            (self.heat_h_between(FITTED, NOW) - tension_h) / RATED_H,
        )

    def strain(self) -> float:
        """Stretch since the reference measurements, as a share of length."""
        then, now = self.shots_until(MEASURED), self.shots_until(NOW)
        settled = SETTLE_STRAIN * (math.exp(-then / SETTLE_SHOTS) - math.exp(-now / SETTLE_SHOTS))
        return settled + CREEP_PER_MONTH_H * self.heat_h_between(MEASURED, NOW)

    def replacement_days(self, point: float = 1.0, paths: int = 20_000) -> tuple[float, float, float]:
        """Days from today until life used reaches `point`: 10, 50 and 90 %, by simulation.

        Sessions on open days at the rate of the season, uncertain as its count makes it (gamma-Poisson); shots drawn
        from the season's sessions; time and heat at the mean rate of the last 90 days; both coefficients uncertain.
        """
        draw, horizon = np.random.default_rng(5), 200
        open_days = sum(1 for n in range((TODAY - FITTED.date()).days) if (FITTED.date() + n * DAY).weekday() != 0)
        rate = draw.gamma(len(self.sessions), 1.0 / open_days, paths)
        shots_of = np.array([count for _, count in self.sessions], dtype=float)
        used_shots, time_share, heat_share = self.life()
        since = NOW - RATE_DAYS * DAY
        by_time_a_day = self.heat_h_between(since, NOW) / RATE_DAYS / RATED_H
        off_shots = np.exp(SHOT_LOG_SD * draw.standard_normal(paths))
        off_time = np.exp(TIME_LOG_SD * draw.standard_normal(paths))
        shots, reached = np.zeros(paths), np.full(paths, np.inf)
        for day in range(1, horizon):
            if (TODAY + (day - 1) * DAY).weekday() != 0:
                for _ in range(int((sessions := draw.poisson(rate)).max())):
                    shots += np.where(sessions > 0, draw.choice(shots_of, paths), 0.0)
                    sessions = sessions - 1
            by_time = (time_share + heat_share + by_time_a_day * day) * off_time
            life = (used_shots + shots / RATED_SHOTS) * off_shots + by_time
            reached = np.where(np.isinf(reached) & (life >= point), day, reached)
        early, middle, late = np.quantile(reached, [0.1, 0.5, 0.9], method="inverted_cdf")
        return float(early), float(middle), float(late)

    # The files

    def write(self, folder: Path) -> dict[str, Path]:
        """Kind -> file, in the order in which a book takes them in."""
        fitted, measured = FITTED.isoformat(), MEASURED.isoformat()
        return {
            "bows": _csv(
                folder / "bows.csv",
                "tag,serial,spec_sheet,hand,site,in_service_on,draw_length_in,peak_weight_lb",
                [f"{TAG},H32-900,QM-HERON,right,{SITE},{FITTED:%Y-%m-%d},28 1/2,50"],
            ),
            "cords": _csv(
                folder / "cords.csv",
                "serial,cord_spec,lot,tag,position,twists_half_turns,prior_use,made_on,fitted_at",
                [
                    f"{spec}-1,{spec},L25-{n},{TAG},{position},{40 + n},none,{MADE},{fitted}"
                    for n, (position, (spec, _length)) in enumerate(CORDS.items())
                ],
            ),
            "references": _csv(
                folder / "references.csv",
                "tag,origin,taken_at,length_tool,weight_tool,axle_to_axle_in,brace_height_in,brace_height_tolerance_in,"
                "draw_length_in,peak_weight_lb,hole_distance_upper_in,hole_distance_lower_in,stop_sync_in,"
                "nocking_height_in,string_twists_half_turns,string_twists_tolerance_half_turns",
                [f"{TAG},draw board,{measured},FH-RULE-1,FH-SCALE-1,32 1/16,6 3/4,3/16,28 1/2,50,5/16,9/32,0,1/8,41,2"],
            ),
            "stays": _csv(folder / "stays.csv", "tag,place,start", [f"{TAG},{RACK},{fitted}"]),
            "temperatures": _csv(
                folder / "temperatures.csv",
                "site,place,at,temperature_c",
                [f"{SITE},{RACK},{at.isoformat()},{celsius}" for at, celsius in self.readings],
            ),
            "shots": self._workbook(folder / "shots.xlsx"),
        }

    def _workbook(self, path: Path) -> Path:
        book = openpyxl.Workbook()
        sheet = book.active
        sheet.append(["tag", "start", "end", "shots", "how_known"])
        for start, count in self.sessions:
            sheet.append([TAG, start.isoformat(), (start + HOUR).isoformat(), count, "counter"])
        book.save(path)
        return path


def _csv(path: Path, header: str, rows: list[str]) -> Path:
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return path
