"""The wear of every fitted cord written plainly in pandas: tables read with read_sql, joined, clipped and summed."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from django.db import connection

from service.wear.rows import CordRows, FleetRows, ParkingRows, ShotRows, SlackRows, StayRows
from tests.benchmarks.pandas_exposure import pandas_exposure

HOURS_PER_MONTH = 365.25 * 2
SHELF_FRACTION = 0.25
DAY_S, NOON_S = 86_400.0, 43_200.0
TABLES = {
    "fitting": "SELECT f.id, f.cord_id, f.bow_id, f.fitted_at, f.removed_at, c.made_on, s.rated_shots, s.rated_months, "
    "s.rated_peak_weight_n FROM fleet_fitting f JOIN fleet_cord c ON c.id = f.cord_id "
    "JOIN fleet_cordspec s ON s.id = c.spec_id",
    "bow": "SELECT id FROM fleet_bow",
    "setup": "SELECT bow_id, since, peak_weight_n FROM fleet_setup",
    "shots": 'SELECT bow_id, start, "end", count FROM fleet_shots WHERE superseded_at IS NULL',
    "stay": 'SELECT bow_id, place_id, start, "end" FROM fleet_stay',
    "parking": 'SELECT bow_id, start, "end", outside_c, shade, boot FROM fleet_vehicleparking',
    "slack": 'SELECT bow_id, start, "end" FROM fleet_relaxation',
    "reading": "SELECT place_id, at, celsius FROM fleet_temperaturereading",
}
INSTANTS = ["fitted_at", "removed_at", "made_on", "since", "start", "end", "at"]


@dataclass(frozen=True)
class Shares:
    """Life used of each cord, by cord id."""

    shots: pd.Series
    time: pd.Series
    heat: pd.Series


def tables() -> dict[str, pd.DataFrame]:
    """The register's tables, instants as epoch seconds."""
    connection.ensure_connection()
    frames = {name: pd.read_sql_query(sql, connection.connection) for name, sql in TABLES.items()}
    for frame in frames.values():
        for name in frame.columns.intersection(INSTANTS):
            instant = pd.to_datetime(frame[name], format="ISO8601")
            frame[name] = (instant - pd.Timestamp(0)) / pd.Timedelta(seconds=1)
    return frames


def life_in_pandas(now_s: float) -> Shares:
    """Life used of every cord that is fitted now, over all its fittings."""
    found = tables()
    fittings = found["fitting"].sort_values(["cord_id", "fitted_at"], ignore_index=True)
    rows, times_s, celsius = _columns(found, fittings)
    parts = pandas_exposure(rows, times_s, celsius, now_s)
    cord = fittings["cord_id"]
    sums = parts.groupby(cord.to_numpy()).sum()
    spec = fittings.groupby("cord_id")[["rated_shots", "rated_months"]].first()
    rated_h = spec["rated_months"] * HOURS_PER_MONTH
    return Shares(
        sums["weighted_shots"] / spec["rated_shots"],
        (sums["tension_h"] + SHELF_FRACTION * sums["shelf_h"]) / rated_h,
        (sums["heat_h"] - sums["tension_h"]) / rated_h,
    )


def _columns(found: dict[str, pd.DataFrame], fittings: pd.DataFrame) -> tuple[FleetRows, np.ndarray, np.ndarray]:
    bows = pd.Series(np.arange(len(found["bow"])), index=np.sort(found["bow"]["id"]))
    place_ids = np.sort(found["reading"]["place_id"].unique())
    places = pd.Series(np.arange(len(place_ids)), index=place_ids)
    shots = _with_weight(found["shots"], found["setup"])
    stays, parkings, slacks = found["stay"], found["parking"], found["slack"]
    rows = FleetRows(
        _cords(fittings, bows),
        ShotRows(
            bows.loc[shots["bow_id"]].to_numpy(),
            shots["start"].to_numpy(),
            shots["end"].to_numpy(),
            shots["count"].to_numpy(float),
            shots["peak_weight_n"].to_numpy(),
        ),
        StayRows(
            bows.loc[stays["bow_id"]].to_numpy(),
            places.loc[stays["place_id"]].to_numpy(),
            stays["start"].to_numpy(),
            stays["end"].to_numpy(float),
        ),
        ParkingRows(
            bows.loc[parkings["bow_id"]].to_numpy(),
            parkings["start"].to_numpy(),
            parkings["end"].to_numpy(),
            parkings["outside_c"].to_numpy(float),
            np.full(len(parkings), np.nan),
            parkings["shade"].to_numpy(bool),
            parkings["boot"].to_numpy(bool),
        ),
        SlackRows(bows.loc[slacks["bow_id"]].to_numpy(), slacks["start"].to_numpy(), slacks["end"].to_numpy(float)),
        np.full(len(bows), len(place_ids)),
    )
    # Where no stay says: the site's assumed temperature, as a place of its own that is always so warm.
    wide = found["reading"].pivot(index="place_id", columns="at", values="celsius")
    celsius = np.vstack([wide.loc[place_ids].to_numpy(), np.full(wide.shape[1], 21.0)])
    return rows, wide.columns.to_numpy(), celsius


def _cords(fittings: pd.DataFrame, bows: pd.Series) -> CordRows:
    before = fittings.groupby("cord_id")["removed_at"].shift(1)
    since = before.fillna(fittings["made_on"] + NOON_S)
    none = np.zeros(len(fittings))
    return CordRows(
        bow=bows.loc[fittings["bow_id"]].to_numpy(),
        fitted_s=fittings["fitted_at"].to_numpy(),
        removed_s=fittings["removed_at"].to_numpy(float),
        made_s=since.to_numpy(),
        rated_shots=fittings["rated_shots"].to_numpy(float),
        rated_h=fittings["rated_months"].to_numpy() * HOURS_PER_MONTH,
        heat_weight=none + 1.0,
        activation_energy_j_per_mol=none + 118_000.0,
        rated_peak_weight_n=fittings["rated_peak_weight_n"].to_numpy(),
        load_exponent=none + 8.0,
        prior_shots=none,
        prior_tension_h=none,
        prior_heat_h=none,
    )


def _with_weight(shots: pd.DataFrame, set_ups: pd.DataFrame) -> pd.DataFrame:
    """Each entry with the peak weight that its bow was set to when it began."""
    return pd.merge_asof(
        shots.sort_values("start"), set_ups.sort_values("since"), left_on="start", right_on="since", by="bow_id"
    )
