"""The heat of one place: integrated once, then read off for every bow that stayed there.

H(t) = integral of AF(T) dt in hours at the reference temperature, trapezoid in AF between readings. The heat of a
stay is H(end) - H(start), so cost grows with readings + stays, not with bows x hours. A gap longer than `max_gap_s`,
and the time before the first and after the last reading, are taken at the place's assumed temperature, and listed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from service.wear.arrays import SECONDS_PER_HOUR, Flags, Floats, Ints, range_maxima
from service.wear.arrhenius import acceleration_factor, kelvin
from service.wear.coefficients import DEFAULTS

COLDEST_READING_C = -60.0
HOTTEST_READING_C = 120.0


class GapKind(StrEnum):
    """Why a stretch of time has no measured temperature."""

    NO_READINGS = "no readings at all"
    BEFORE_FIRST = "before the first reading"
    BETWEEN = "between two readings"
    AFTER_LAST = "after the last reading"


@dataclass(frozen=True)
class Gap:
    """A stretch without readings that was taken at `assumed_c`."""

    start_s: float
    end_s: float
    kind: GapKind
    assumed_c: float

    @property
    def hours(self) -> float:
        return (self.end_s - self.start_s) / SECONDS_PER_HOUR


@dataclass(frozen=True)
class HeatScale:
    """What "hours at the reference temperature" means: one activation energy and one reference."""

    activation_energy_j_per_mol: float = DEFAULTS["activation_energy"].value
    reference_k: float = DEFAULTS["reference_temperature"].value

    def factor(self, temperature_c: npt.ArrayLike) -> Floats:
        """Acceleration factor at a temperature in degC, any shape."""
        return acceleration_factor(kelvin(temperature_c), self.activation_energy_j_per_mol, self.reference_k)


@dataclass(frozen=True, eq=False)
class PlaceHeat:
    """Cumulative heat of one place for one activation energy; immutable, extended by `with_readings`.

    Interval i (0..n) runs from reading i-1 to reading i; the first and the last are open. `rate[i]` is AF at the
    interval's start and `slope_per_s[i]` its change; `cumulative_h[i]` is H at reading i, 0 at the first one.
    Build it with `from_readings` or `fixed`.
    """

    scale: HeatScale
    assumed_c: float
    max_gap_s: float
    is_fixed: bool
    times_s: Floats
    temperature_c: Floats
    cumulative_h: Floats
    rate: Floats
    slope_per_s: Floats

    @classmethod
    def from_readings(
        cls,
        times_s: npt.ArrayLike,
        temperature_c: npt.ArrayLike,
        assumed_c: float,
        scale: HeatScale | None = None,
        max_gap_h: float = DEFAULTS["max_bridged_gap"].value,
    ) -> PlaceHeat:
        """From a logger's readings in any order: instants (epoch seconds) and degC of equal length.

        Of two readings at one instant the later in the list counts (a correction). Raises ValueError for readings
        that are not numbers or outside -60..120 degC.
        """
        empty = cls._without_readings(assumed_c, scale or HeatScale(), max_gap_h * SECONDS_PER_HOUR, is_fixed=False)
        return empty.with_readings(times_s, temperature_c)

    @classmethod
    def fixed(cls, temperature_c: float, scale: HeatScale | None = None) -> PlaceHeat:
        """A place that is always at one temperature (degC)."""
        return cls._without_readings(temperature_c, scale or HeatScale(), np.inf, is_fixed=True)

    @classmethod
    def _without_readings(cls, assumed_c: float, scale: HeatScale, max_gap_s: float, is_fixed: bool) -> PlaceHeat:
        _checked_celsius(np.array([assumed_c]))
        none = np.empty(0)
        rate = np.array([float(scale.factor(assumed_c))])
        return cls(scale, float(assumed_c), max_gap_s, is_fixed, none, none, none, rate, np.zeros(1))

    def at(self, time_s: npt.ArrayLike) -> Floats:
        """H (h) at each instant, counted from the first reading (negative before it); any shape."""
        time = np.asarray(time_s, dtype=np.float64)
        interval = np.searchsorted(self.times_s, time, side="right")
        if self.times_s.size == 0:
            return time * self.rate[0] / SECONDS_PER_HOUR
        knot = np.maximum(interval - 1, 0)
        since_s = time - self.times_s[knot]
        within = since_s * (self.rate[interval] + 0.5 * since_s * self.slope_per_s[interval])
        return self.cumulative_h[knot] + within / SECONDS_PER_HOUR

    def between(self, start_s: npt.ArrayLike, end_s: npt.ArrayLike) -> Floats:
        """Heat (h at the reference temperature) from each start to its end; any equal shapes."""
        return self.at(end_s) - self.at(start_s)

    def temperature_at(self, time_s: npt.ArrayLike) -> Floats:
        """Temperature (degC): linear between readings, the assumed one where there are none."""
        time = np.asarray(time_s, dtype=np.float64)
        return self._temperature(time, np.searchsorted(self.times_s, time, side="right").astype(np.int64))

    def max_between(self, start_s: npt.ArrayLike, end_s: npt.ArrayLike) -> Floats:
        """Highest temperature (degC) met from each start to its end, both included; equal 1-D shapes."""
        start = np.atleast_1d(np.asarray(start_s, dtype=np.float64))
        end = np.atleast_1d(np.asarray(end_s, dtype=np.float64))
        if self.times_s.size == 0:
            return np.full(start.shape, self.assumed_c)
        past_start: Ints = np.searchsorted(self.times_s, start, side="right").astype(np.int64)
        past_end: Ints = np.searchsorted(self.times_s, end, side="right").astype(np.int64)
        ends = np.maximum(self._temperature(start, past_start), self._temperature(end, past_end))
        highest = np.maximum(ends, range_maxima(self.temperature_c, past_start, past_end))
        unmeasured = self._touches_assumption(start, end, past_start, past_end)
        return np.where(unmeasured, np.maximum(highest, self.assumed_c), highest)

    def gaps(self, start_s: float, end_s: float) -> list[Gap]:
        """Stretches longer than the allowed gap between the two instants, clipped to them, in order of time.

        A place of fixed temperature has none.
        """
        if self.is_fixed or not end_s > start_s:
            return []
        if self.times_s.size == 0:
            return [Gap(start_s, end_s, GapKind.NO_READINGS, self.assumed_c)]
        edges = np.concatenate([[min(start_s, self.times_s[0])], self.times_s, [max(end_s, self.times_s[-1])]])
        found = []
        for interval in np.flatnonzero(np.diff(edges) > self.max_gap_s):
            low, high = max(float(edges[interval]), start_s), min(float(edges[interval + 1]), end_s)
            if high > low:
                found.append(Gap(low, high, self._kind(int(interval)), self.assumed_c))
        return found

    def with_readings(self, times_s: npt.ArrayLike, temperature_c: npt.ArrayLike) -> PlaceHeat:
        """This place with more readings; one at an instant already known replaces it.

        Only what follows the earliest new reading is integrated again: readings at the end cost nothing else.
        """
        new_times = np.atleast_1d(np.asarray(times_s, dtype=np.float64))
        new_values = np.atleast_1d(np.asarray(temperature_c, dtype=np.float64))
        self._check_new(new_times, new_values)
        if new_times.size == 0:
            return self
        order = np.argsort(new_times, kind="stable")
        new_times, new_values = new_times[order], new_values[order]
        last_of_instant = np.append(new_times[1:] != new_times[:-1], True)
        new_times, new_values = new_times[last_of_instant], new_values[last_of_instant]
        known = int(np.searchsorted(self.times_s, new_times[0], side="left"))
        kept = known + np.flatnonzero(~np.isin(self.times_s[known:], new_times))
        tail_times = np.concatenate([self.times_s[kept], new_times])
        tail_values = np.concatenate([self.temperature_c[kept], new_values])
        tail_order = np.argsort(tail_times, kind="stable")
        return self._integrated(known, tail_times[tail_order], tail_values[tail_order])

    def without_readings(self, times_s: npt.ArrayLike) -> PlaceHeat:
        """This place with the readings at these instants taken out (deleted in the register)."""
        gone = np.isin(self.times_s, np.asarray(times_s, dtype=np.float64))
        if not np.any(gone):
            return self
        known = int(np.argmax(gone))
        kept = ~gone[known:]
        return self._integrated(known, self.times_s[known:][kept], self.temperature_c[known:][kept])

    def touched_by(self, time_s: float) -> tuple[float, float]:
        """The stretch of time whose heat changes when a reading at this instant comes, changes or goes.

        From the reading before it to the reading after it; a bow that was not here then is not concerned. At either
        end of the readings the stretch ends at `time_s` itself: beyond, the assumed temperature holds as before.
        """
        before = int(np.searchsorted(self.times_s, time_s, side="left")) - 1
        after = int(np.searchsorted(self.times_s, time_s, side="right"))
        start = float(self.times_s[before]) if before >= 0 else time_s
        end = float(self.times_s[after]) if after < self.times_s.size else time_s
        return start, end

    def _integrated(self, known: int, tail_times: Floats, tail_values: Floats) -> PlaceHeat:
        """Keep the first `known` readings and their integral; integrate on over the tail."""
        times = np.concatenate([self.times_s[:known], tail_times])
        values = np.concatenate([self.temperature_c[:known], tail_values])
        if times.size == 0:
            return self._without_readings(self.assumed_c, self.scale, self.max_gap_s, is_fixed=self.is_fixed)
        joint = max(known - 1, 0)  # the last reading whose integral stands
        factor = self.scale.factor(values[joint:])
        span_s = np.diff(times[joint:])
        bridged = span_s > self.max_gap_s
        assumed = float(self.scale.factor(self.assumed_c))
        start = np.where(bridged, assumed, factor[:-1])
        end = np.where(bridged, assumed, factor[1:])
        step_h = 0.5 * (start + end) * span_s / SECONDS_PER_HOUR
        origin = self.cumulative_h[joint : joint + 1] if known else np.zeros(1)
        cumulative = np.cumsum(np.concatenate([origin, step_h]))
        head = self.rate[: joint + 1] if known else np.array([assumed])
        head_slope = self.slope_per_s[: joint + 1] if known else np.zeros(1)
        return PlaceHeat(
            self.scale,
            self.assumed_c,
            self.max_gap_s,
            self.is_fixed,
            times,
            values,
            np.concatenate([self.cumulative_h[:joint], cumulative]),
            np.concatenate([head, start, [assumed]]),
            np.concatenate([head_slope, (end - start) / span_s, [0.0]]),
        )

    def _temperature(self, time: Floats, past: Ints) -> Floats:
        """Temperature at instants of which `past[i]` readings are not later."""
        if self.times_s.size == 0:
            return np.full(time.shape, self.assumed_c)
        before = np.maximum(past - 1, 0)
        after = np.minimum(past, self.times_s.size - 1)
        span_s = self.times_s[after] - self.times_s[before]
        share = np.divide(time - self.times_s[before], span_s, out=np.zeros(time.shape), where=span_s > 0.0)
        between = self.temperature_c[before] + share * (self.temperature_c[after] - self.temperature_c[before])
        measured = (span_s > 0.0) & (span_s <= self.max_gap_s)
        at_reading = (past > 0) & (time == self.times_s[before])
        return np.where(at_reading, self.temperature_c[before], np.where(measured, between, self.assumed_c))

    def _touches_assumption(self, start: Floats, end: Floats, past_start: Ints, past_end: Ints) -> Flags:
        """Whether any part of the open stretch (start, end) has no reading near enough."""
        final = self.times_s.size - 1
        gaps_before_reading = np.concatenate([[0], np.cumsum(np.diff(self.times_s) > self.max_gap_s)])
        # A gap counts if it begins before `end` (a reading exactly at `end` begins nothing) and ends after `start`.
        ends_on_reading = (past_end > 0) & (self.times_s[np.maximum(past_end - 1, 0)] == end)
        begun = gaps_before_reading[np.minimum(past_end - ends_on_reading, final)]
        over = gaps_before_reading[np.maximum(past_start - 1, 0)]
        return (begun > over) | (start < self.times_s[0]) | (end > self.times_s[-1])

    def _kind(self, interval: int) -> GapKind:
        if interval == 0:
            return GapKind.BEFORE_FIRST
        return GapKind.AFTER_LAST if interval == self.times_s.size else GapKind.BETWEEN

    def _check_new(self, times: Floats, values: Floats) -> None:
        if self.is_fixed and times.size:
            raise ValueError(
                f"{times.size} readings for a place of fixed temperature {self.assumed_c:g} degC: "
                "change the place to one with a logger first"
            )
        if times.shape != values.shape:
            raise ValueError(f"{times.size} instants but {values.size} temperatures: give one degC per instant")
        if not np.all(np.isfinite(times)):
            raise ValueError("an instant is not a number: give epoch seconds (UTC)")
        _checked_celsius(values)


def _checked_celsius(values: Floats) -> None:
    wrong = ~((values >= COLDEST_READING_C) & (values <= HOTTEST_READING_C))
    if np.any(wrong):
        raise ValueError(
            f"temperature {values[wrong][0]:g} degC: allowed is {COLDEST_READING_C:g} to {HOTTEST_READING_C:g} degC; "
            "check the unit (degF?) and the logger"
        )
