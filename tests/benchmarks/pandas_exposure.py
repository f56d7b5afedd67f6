"""The exposure of a fleet written plainly in pandas: joins, clips and grouped sums, as one would write it first.

It leaves out the highest temperature met, which would only make it slower. Columns in and results are the kernel's.
"""

from itertools import pairwise

import numpy as np
import pandas as pd

from service.wear.rows import FleetRows
from tests.benchmarks.big_fleet import ASSUMED_C

GAS_CONSTANT, REFERENCE_K, ENERGY, EXPONENT = 8.314462618, 296.15, 118_000.0, 8.0
RISE_S = np.array([0, 600, 1200, 1800, 2400, 3000, 3600.0])
RISE_K = np.array([0, 19, 29, 34, 38, 41, 43]) / 1.8


def factor(celsius):
    return np.exp(ENERGY / GAS_CONSTANT * (1 / REFERENCE_K - 1 / (celsius + 273.15)))


def pandas_exposure(rows: FleetRows, times_s: np.ndarray, readings_c: np.ndarray, now_s: float) -> pd.DataFrame:
    """weighted_shots, tension_h, shelf_h and heat_h per cord."""
    cords = pd.DataFrame(
        {
            "cord": np.arange(rows.cords.bow.size),
            "bow": rows.cords.bow,
            "fitted": rows.cords.fitted_s,
            "removed": np.minimum(np.nan_to_num(rows.cords.removed_s, nan=np.inf), now_s),
            "rated": rows.cords.rated_peak_weight_n,
        }
    )
    result = pd.DataFrame(index=cords["cord"])
    result["weighted_shots"] = shots_per_cord(cords, rows)
    pieces = pieces_with_heat(rows, place_table(times_s, readings_c), cords, now_s)
    grouped = pieces.groupby("cord")[["tension_h", "slack_h", "heat_h"]].sum()
    result = result.join(grouped).fillna(0.0)
    shelf = np.nan_to_num((rows.cords.fitted_s - rows.cords.made_s) / 3600)
    result["shelf_h"] = result["slack_h"] + shelf
    return result


def shots_per_cord(cords: pd.DataFrame, rows: FleetRows) -> pd.Series:
    shots = pd.DataFrame(
        {
            "bow": rows.shots.bow,
            "start": rows.shots.start_s,
            "end": rows.shots.end_s,
            "count": rows.shots.count,
            "weight": rows.shots.peak_weight_n,
        }
    )
    both = shots.merge(cords, on="bow")
    length = both["end"] - both["start"]
    overlap = (both[["end", "removed"]].min(axis=1) - both[["start", "fitted"]].max(axis=1)).clip(lower=0)
    at_once = (both["start"] >= both["fitted"]) & (both["start"] < both["removed"])
    share = (overlap / length).where(length > 0, at_once.astype(float))
    both["effect"] = both["count"] * (both["weight"] / both["rated"]) ** EXPONENT * share
    return both.groupby("cord")["effect"].sum()


def place_table(times_s: np.ndarray, readings_c: np.ndarray) -> pd.DataFrame:
    """Every place's readings with cumulative heat, acceleration factor and its slope up to the next reading."""
    places, hours = readings_c.shape
    table = pd.DataFrame(
        {
            "place": np.repeat(np.arange(places), hours),
            "time": np.tile(times_s, places),
            "celsius": readings_c.ravel(),
        }
    )
    table["factor"] = factor(table["celsius"])
    following = table.groupby("place")[["time", "factor"]].shift(-1)
    span = following["time"] - table["time"]
    step = ((table["factor"] + following["factor"]) / 2 * span / 3600).fillna(0.0)
    table["heat"] = step.groupby(table["place"]).cumsum() - step
    table["slope"] = ((following["factor"] - table["factor"]) / span).fillna(0.0)
    table.loc[following["time"].isna(), "factor"] = factor(ASSUMED_C)
    return table.sort_values("time", kind="stable")


def pieces_with_heat(rows: FleetRows, table: pd.DataFrame, cords: pd.DataFrame, now_s: float) -> pd.DataFrame:
    kinds = {"stay": rows.stays, "parking": rows.parkings, "slack": rows.slacks}
    marks = []
    for kind, columns in kinds.items():
        number = np.arange(columns.bow.size) + 1
        marks.append(pd.DataFrame({"bow": columns.bow, "time": columns.start_s, kind: number}))
        marks.append(pd.DataFrame({"bow": columns.bow, "time": columns.end_s, kind: -number}))
    marks.append(pd.DataFrame({"bow": cords["bow"], "time": cords["fitted"]}))
    marks.append(pd.DataFrame({"bow": cords["bow"], "time": cords["removed"].clip(lower=cords["fitted"])}))
    events = pd.concat(marks, ignore_index=True).fillna(0).sort_values(["bow", "time"], kind="stable")
    in_force = events.groupby("bow")[list(kinds)].cumsum().astype(int) - 1
    events[list(kinds)] = in_force
    events["until"] = events.groupby("bow")["time"].shift(-1)
    pieces = events[events["until"] > events["time"]].merge(cords, on="bow")
    pieces = pieces[(pieces["time"] >= pieces["fitted"]) & (pieces["until"] <= pieces["removed"])].copy()
    place = np.append(rows.stays.place, 0)[pieces["stay"]]
    pieces["place"] = np.where(pieces["stay"] >= 0, place, rows.default_place[pieces["bow"]])
    hours = (pieces["until"] - pieces["time"]) / 3600
    slack = pieces["slack"] >= 0
    pieces["tension_h"] = hours.where(~slack, 0.0)
    pieces["slack_h"] = hours.where(slack, 0.0)
    at_place = cumulative(pieces, "until", table) - cumulative(pieces, "time", table)
    parked = pieces["parking"] >= 0
    heat = at_place.where(~parked, 0.0)
    heat[parked] = parked_heat(pieces[parked], rows)
    pieces["heat_h"] = heat.where(~slack, 0.0)
    return pieces


def cumulative(pieces: pd.DataFrame, column: str, table: pd.DataFrame) -> pd.Series:
    wanted = pieces[[column, "place"]].rename(columns={column: "at"}).sort_values("at")
    found = pd.merge_asof(wanted.reset_index(), table, left_on="at", right_on="time", by="place").set_index("index")
    since = found["at"] - found["time"]
    return (found["heat"] + since * (found["factor"] + found["slope"] * since / 2) / 3600).reindex(pieces.index)


def parked_heat(pieces: pd.DataFrame, rows: FleetRows) -> pd.Series:
    """Gauss-Legendre over each stretch of the published table, as the kernel does."""
    facts = pd.DataFrame(
        {
            "begun": rows.parkings.start_s,
            "outside": rows.parkings.outside_c,
            "share": np.where(rows.parkings.shade, 0.55, 1.0) * np.where(rows.parkings.boot, 0.6, 1.0),
        }
    ).loc[pieces["parking"]]
    facts.index = pieces.index
    nodes, weights = np.polynomial.legendre.leggauss(5)

    def upto(seconds: pd.Series) -> pd.Series:
        past = (seconds - 3600).clip(lower=0)
        total = past * factor((facts["outside"] + facts["share"] * 25.0).clip(upper=76))
        for low, high in pairwise(RISE_S):
            half = (seconds - low).clip(lower=0, upper=high - low) / 2
            for node, weight in zip(nodes, weights, strict=True):
                rise = np.interp(low + half * (1 + node), RISE_S, RISE_K)
                total = total + weight * half * factor((facts["outside"] + facts["share"] * rise).clip(upper=76))
        return total / 3600

    return upto(pieces["until"] - facts["begun"]) - upto(pieces["time"] - facts["begun"])
