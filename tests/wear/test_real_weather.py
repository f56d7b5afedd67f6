"""A real year of hourly weather as a place's logger, every number worked out a second time, plainly."""

import math

import numpy as np
import pytest

from service.wear.exposure import exposure
from service.wear.heat import GapKind, PlaceHeat
from tests.wear.fleets import (
    DAY_S,
    ENERGY,
    HOUR_S,
    SCALE,
    cord_rows,
    fixed_places,
    fleet_rows,
    shot_rows,
    stay_rows,
)
from tests.wear.plain import PlainPlace
from tests.wear.weather import greensboro_year

REFERENCE_K = 296.15
TIMES, CELSIUS = greensboro_year()
LOGGER = PlaceHeat.from_readings(TIMES, CELSIUS, 21.0, SCALE)


def test_the_year_is_what_it_should_be() -> None:
    assert TIMES.size == 8760
    assert -20.0 < CELSIUS.min() < 0.0 < 30.0 < CELSIUS.max() < 45.0
    gaps = LOGGER.gaps(float(TIMES[0]), float(TIMES[-1]))
    # A TMY year has no 29 February; laid on 2024 that day is the one gap.
    assert [(gap.kind, gap.hours) for gap in gaps] == [(GapKind.BETWEEN, 25.0)]


def test_heat_of_the_year() -> None:
    total = 0.0
    factors = [math.exp(ENERGY / 8.314462618 * (1 / REFERENCE_K - 1 / (c + 273.15))) for c in CELSIUS.tolist()]
    for t0, t1, f0, f1 in zip(TIMES.tolist(), TIMES.tolist()[1:], factors, factors[1:], strict=False):
        hours = (t1 - t0) / 3600
        assumed = math.exp(ENERGY / 8.314462618 * (1 / REFERENCE_K - 1 / (21.0 + 273.15)))
        total += hours * (assumed if hours > 3 else (f0 + f1) / 2)
    assert float(LOGGER.between(TIMES[0], TIMES[-1])) == pytest.approx(total, rel=1e-12)


def test_a_minute_logger_in_the_same_weather_agrees_within_one_percent() -> None:
    june = slice(3648, 4368)
    minutes = np.arange(TIMES[june][0], TIMES[june][-1] + 1.0, 60.0)
    fine = PlaceHeat.from_readings(minutes, np.interp(minutes, TIMES[june], CELSIUS[june]), 21.0, SCALE)
    hourly = LOGGER.between(minutes[0], minutes[-1])
    assert float(fine.between(minutes[0], minutes[-1])) == pytest.approx(float(hourly), rel=0.01)


def test_grown_reading_by_reading_equals_the_year_built_at_once() -> None:
    grown = PlaceHeat.from_readings(TIMES[:8000], CELSIUS[:8000], 21.0, SCALE)
    for time, celsius in zip(TIMES[8000:8100], CELSIUS[8000:8100], strict=True):
        grown = grown.with_readings([time], [celsius])
    late = [5, 4000, 8050]
    gone = np.delete(np.arange(8100), late)
    late_build = PlaceHeat.from_readings(TIMES[gone], CELSIUS[gone], 21.0, SCALE).with_readings(
        TIMES[late], CELSIUS[late]
    )
    whole = PlaceHeat.from_readings(TIMES[:8100], CELSIUS[:8100], 21.0, SCALE)
    for other in (grown, late_build):
        np.testing.assert_allclose(other.cumulative_h, whole.cumulative_h, rtol=1e-9, atol=1e-9)


def test_a_hire_season_on_a_bow_kept_outside_by_day() -> None:
    """A string fitted in April: 40 shots every third day, days in an open trailer, nights indoors at 20 degC."""
    start = float(TIMES[90 * 24])
    now = start + 120 * DAY_S
    stays = [(0, 1, start + day * DAY_S + 9 * HOUR_S, start + day * DAY_S + 18 * HOUR_S) for day in range(120)]
    shots = [
        (0, start + day * DAY_S + 10 * HOUR_S, start + day * DAY_S + 11 * HOUR_S, 40, 250.0) for day in range(0, 120, 3)
    ]
    rows = fleet_rows(
        cord_rows(fitted_s=[start], made_s=[start - 60 * DAY_S]), shot_rows(shots), stay_rows(stays), bows=1
    )
    places = {ENERGY: fixed_places(20.0)[ENERGY] | {1: LOGGER}}
    life = exposure(rows, places, now).life(rows.cords).row(0)

    plain = PlainPlace(list(zip(TIMES.tolist(), CELSIUS.tolist(), strict=True)), 21.0)
    indoors = math.exp(ENERGY / 8.314462618 * (1 / REFERENCE_K - 1 / 293.15))
    heat = sum(plain.heat_h(s, e, ENERGY, REFERENCE_K) for _, _, s, e in stays) + indoors * 120 * 15
    assert life.shots == pytest.approx(40 * 40 / 5000, rel=1e-12)
    assert life.time == pytest.approx((120 * 24 + 0.25 * 60 * 24) / 8766, rel=1e-12)
    assert life.heat == pytest.approx((heat - 120 * 24) / 8766, rel=1e-9)
