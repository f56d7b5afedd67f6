"""A fleet of the size that the exposure kernel is meant for, deterministic, as the register would hand it over."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from service.wear.rows import CordRows, FleetRows, ParkingRows, ShotRows, SlackRows, StayRows

BOWS, CORDS, SHOTS, PLACES, READINGS = 10_000, 25_000, 2_000_000, 200, 8_760
STAYS_PER_BOW, PARKINGS_PER_BOW, SLACKS_PER_BOW = 20, 5, 2
YEAR_START_S = 1_704_067_200.0
HOUR_S, DAY_S = 3600.0, 86400.0
NOW_S = YEAR_START_S + READINGS * HOUR_S
ASSUMED_C = 21.0


@dataclass(frozen=True)
class BigFleet:
    """Columns of the fleet, and hourly readings: one row of temperatures per place."""

    rows: FleetRows
    reading_times_s: npt.NDArray[np.float64]
    readings_c: npt.NDArray[np.float64]


def big_fleet(seed: int = 7) -> BigFleet:
    """Rows ordered by bow and time, as an index of the database gives them."""
    random = np.random.default_rng(seed)
    year_s = NOW_S - YEAR_START_S

    def disjoint(
        per_bow: int,
    ) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        cuts = np.sort(random.uniform(YEAR_START_S, NOW_S, (BOWS, 2 * per_bow)), axis=1)
        return np.repeat(np.arange(BOWS), per_bow), cuts[:, 0::2].ravel(), cuts[:, 1::2].ravel()

    bow = np.sort(random.integers(0, BOWS, CORDS))
    fitted = YEAR_START_S + random.uniform(0.0, 0.5, CORDS) * year_s
    removed = np.where(random.random(CORDS) < 0.2, fitted + random.uniform(0.0, 0.5, CORDS) * year_s, np.nan)

    def same(value: float) -> npt.NDArray[np.float64]:
        return np.full(CORDS, value)

    cords = CordRows(
        bow=bow,
        fitted_s=fitted,
        removed_s=removed,
        made_s=fitted - random.uniform(0.0, 200.0, CORDS) * DAY_S,
        rated_shots=same(5000.0),
        rated_h=same(8766.0),
        heat_weight=same(1.0),
        activation_energy_j_per_mol=same(118_000.0),
        rated_peak_weight_n=same(250.0),
        load_exponent=same(8.0),
        prior_shots=same(0.0),
        prior_tension_h=same(0.0),
        prior_heat_h=same(0.0),
    )
    shot_bow = np.sort(random.integers(0, BOWS, SHOTS))
    start = np.floor(random.uniform(YEAR_START_S, NOW_S, SHOTS))
    order = np.lexsort((start, shot_bow))
    shots = ShotRows(
        bow=shot_bow[order],
        start_s=start[order],
        end_s=start[order] + random.integers(0, 4, SHOTS) * HOUR_S,
        count=random.integers(1, 120, SHOTS).astype(np.float64),
        peak_weight_n=random.integers(200, 300, SHOTS).astype(np.float64),
    )
    stay_bow, stay_start, stay_end = disjoint(STAYS_PER_BOW)
    parking_bow, parking_start, parking_end = disjoint(PARKINGS_PER_BOW)
    slack_bow, slack_start, slack_end = disjoint(SLACKS_PER_BOW)
    count = parking_bow.size
    rows = FleetRows(
        cords,
        shots,
        StayRows(stay_bow, random.integers(0, PLACES, stay_bow.size), stay_start, stay_end),
        ParkingRows(
            parking_bow,
            parking_start,
            np.minimum(parking_end, parking_start + 5 * HOUR_S),
            random.uniform(5.0, 35.0, count),
            np.full(count, np.nan),
            random.random(count) < 0.5,
            random.random(count) < 0.2,
        ),
        SlackRows(slack_bow, slack_start, np.minimum(slack_end, slack_start + DAY_S)),
        random.integers(0, PLACES, BOWS),
    )
    hours = np.arange(READINGS)
    season = 14.0 - 11.0 * np.cos(2 * np.pi * hours / READINGS)
    day = 6.0 * np.sin(2 * np.pi * (hours % 24 - 9) / 24)
    readings = season + day + random.normal(0.0, 2.0, (PLACES, READINGS)) + random.uniform(-3.0, 8.0, (PLACES, 1))
    return BigFleet(rows, YEAR_START_S + hours * HOUR_S, readings)
