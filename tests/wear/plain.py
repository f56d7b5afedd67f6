"""The wear model's exposure written out plainly, row by row, as a second opinion on the fast kernel.

It shares no code with service.wear: its own constants, its own table of the parked vehicle, numerical quadrature.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from scipy.integrate import quad

GAS_CONSTANT = 8.314462618
HOUR_S = 3600.0
RISE_F = [(0, 0), (10, 19), (20, 29), (30, 34), (40, 38), (50, 41), (60, 43)]


def factor(celsius: float, energy: float, reference_k: float) -> float:
    return math.exp(energy / GAS_CONSTANT * (1 / reference_k - 1 / (celsius + 273.15)))


@dataclass(frozen=True)
class PlainPlace:
    """Readings as (time, degC) in order, or none; assumed temperature; allowed gap in seconds."""

    readings: Sequence[tuple[float, float]]
    assumed_c: float
    max_gap_s: float = 3 * HOUR_S

    def heat_h(self, start: float, end: float, energy: float, reference_k: float) -> float:
        assumed = factor(self.assumed_c, energy, reference_k)
        if not self.readings:
            return assumed * (end - start) / HOUR_S
        total = assumed * max(0.0, min(end, self.readings[0][0]) - start)
        total += assumed * max(0.0, end - max(start, self.readings[-1][0]))
        for (t0, c0), (t1, c1) in pairwise(self.readings):
            low, high = max(start, t0), min(end, t1)
            if high <= low:
                continue
            if t1 - t0 > self.max_gap_s:
                total += assumed * (high - low)
                continue
            f0, f1 = factor(c0, energy, reference_k), factor(c1, energy, reference_k)
            at_low = f0 + (f1 - f0) * (low - t0) / (t1 - t0)
            at_high = f0 + (f1 - f0) * (high - t0) / (t1 - t0)
            total += 0.5 * (at_low + at_high) * (high - low)
        return total / HOUR_S

    def max_c(self, start: float, end: float) -> float:
        """Highest of: both ends, the readings between, and the assumed temperature where it had to stand in."""
        candidates = [self.celsius(start), self.celsius(end)]
        candidates += [c for t, c in self.readings if start <= t <= end]
        times = [-math.inf, *(t for t, _ in self.readings), math.inf]
        if any(t1 - t0 > self.max_gap_s and min(end, t1) > max(start, t0) for t0, t1 in pairwise(times)):
            candidates.append(self.assumed_c)
        return max(candidates)

    def celsius(self, time: float) -> float:
        for t, c in self.readings:
            if t == time:
                return c
        for (t0, c0), (t1, c1) in pairwise(self.readings):
            if t0 < time < t1 and t1 - t0 <= self.max_gap_s:
                return c0 + (c1 - c0) * (time - t0) / (t1 - t0)
        return self.assumed_c


@dataclass(frozen=True)
class PlainParking:
    start: float
    end: float
    outside_c: float
    cabin_c: float
    shade: bool
    boot: bool

    def celsius(self, parked_s: float) -> float:
        if not math.isnan(self.cabin_c):
            return self.cabin_c
        minutes = parked_s / 60
        rise = 45.0
        for (m0, r0), (m1, r1) in pairwise(RISE_F):
            if m0 <= minutes <= m1:
                rise = r0 + (r1 - r0) * (minutes - m0) / (m1 - m0)
                break
        return min(76.0, self.outside_c + rise / 1.8 * (0.55 if self.shade else 1) * (0.6 if self.boot else 1))

    def heat_h(self, start: float, end: float, energy: float, reference_k: float) -> float:
        cuts = [start, *(self.start + 60.0 * m for m, _ in RISE_F), end]
        cuts = sorted(cut for cut in cuts if start <= cut <= end)
        total = 0.0
        for low, high in pairwise(cuts):
            if high > low:
                inner = quad(
                    lambda t: factor(self.celsius(t - self.start), energy, reference_k),
                    low,
                    high,
                    epsabs=1e-9,
                    epsrel=1e-11,
                )
                total += inner[0]
        return total / HOUR_S


def plain_shots(
    entries: Sequence[tuple[float, float, float, float]],
    fitted: float,
    removed: float,
    now: float,
    rated_peak_weight: float,
    exponent: float,
) -> float:
    """Weighted shots of one cord from its bow's (start, end, count, peak weight) entries, as of now."""
    total = 0.0
    for start, end, count, weight in entries:
        if end > start:
            overlap = max(0.0, min(end, removed, now) - max(start, fitted))
            share = overlap / (end - start)
        else:
            share = 1.0 if fitted <= start < removed and start <= now else 0.0
        total += share * count * (1.0 if math.isnan(weight) else (weight / rated_peak_weight) ** exponent)
    return total


def plain_heat(
    window: tuple[float, float],
    stays: Sequence[tuple[int, float, float]],
    parkings: Sequence[PlainParking],
    slacks: Sequence[tuple[float, float]],
    places: Sequence[PlainPlace],
    energy: float,
    reference_k: float,
) -> tuple[float, float, float, float]:
    """Tension, slack and heat hours and highest temperature of one cord over its window; place 0 by default."""
    start, end = window
    cuts = {start, end}
    for row_start, row_end in [(s, e) for _, s, e in stays] + [(p.start, p.end) for p in parkings] + list(slacks):
        cuts.update(cut for cut in (row_start, row_end) if start < cut < end)
    tension = slack = heat = 0.0
    hottest = -math.inf
    ordered = sorted(cuts)
    for low, high in pairwise(ordered):
        middle = 0.5 * (low + high)
        parking = next((p for p in parkings if p.start <= middle < p.end), None)
        place = places[next((place for place, s, e in stays if s <= middle < e), 0)]
        relaxed = any(s <= middle < e for s, e in slacks)
        hours = (high - low) / HOUR_S
        hottest = max(hottest, parking.celsius(high - parking.start) if parking else place.max_c(low, high))
        if relaxed:
            slack += hours
            continue
        tension += hours
        heat += (parking or place).heat_h(low, high, energy, reference_k)
    return tension, slack, heat, hottest
