"""Small fleets for tests: columns from short lists, with plain defaults for what a test is not about."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from service.wear.heat import HeatScale, PlaceHeat
from service.wear.rows import CordRows, FleetRows, ParkingRows, ShotRows, SlackRows, StayRows

HOUR_S = 3600.0
DAY_S = 86400.0
ENERGY = 118_000.0
SCALE = HeatScale(ENERGY, 296.15)

DEFAULT_CORD = {
    "bow": 0,
    "fitted_s": 0.0,
    "removed_s": np.nan,
    "made_s": np.nan,
    "rated_shots": 5000.0,
    "rated_h": 8766.0,
    "heat_weight": 1.0,
    "activation_energy_j_per_mol": ENERGY,
    "rated_peak_weight_n": 250.0,
    "load_exponent": 8.0,
    "prior_shots": 0.0,
    "prior_tension_h": 0.0,
    "prior_heat_h": 0.0,
}


def cord_rows(**columns: Sequence[float]) -> CordRows:
    """Cords with the given columns; one cord if none is given."""
    count = max((len(column) for column in columns.values()), default=1)
    filled = {
        name: np.array(columns.get(name, [default] * count), dtype=np.int64 if name == "bow" else np.float64)
        for name, default in DEFAULT_CORD.items()
    }
    return CordRows(**filled)


def shot_rows(entries: Sequence[tuple[int, float, float, float, float]]) -> ShotRows:
    """(bow, start_s, end_s, count, peak weight in N or nan)."""
    return ShotRows(_ints(entries, 0), *(_floats(entries, column) for column in range(1, 5)))


def stay_rows(entries: Sequence[tuple[int, int, float, float]]) -> StayRows:
    """(bow, place, start_s, end_s)."""
    return StayRows(_ints(entries, 0), _ints(entries, 1), _floats(entries, 2), _floats(entries, 3))


def parking_rows(entries: Sequence[tuple[int, float, float, float, float, bool, bool]]) -> ParkingRows:
    """(bow, start_s, end_s, outside_c, cabin_c, shade, boot)."""
    shade = np.array([entry[5] for entry in entries], dtype=np.bool_)
    boot = np.array([entry[6] for entry in entries], dtype=np.bool_)
    return ParkingRows(_ints(entries, 0), *(_floats(entries, column) for column in range(1, 5)), shade, boot)


def slack_rows(entries: Sequence[tuple[int, float, float]]) -> SlackRows:
    """(bow, start_s, end_s)."""
    return SlackRows(_ints(entries, 0), _floats(entries, 1), _floats(entries, 2))


def fleet_rows(
    cords: CordRows | None = None,
    shots: ShotRows | None = None,
    stays: StayRows | None = None,
    parkings: ParkingRows | None = None,
    slacks: SlackRows | None = None,
    bows: int = 3,
) -> FleetRows:
    """A fleet whose bows are at place 0 when no stay says otherwise."""
    return FleetRows(
        cord_rows() if cords is None else cords,
        shot_rows([]) if shots is None else shots,
        stay_rows([]) if stays is None else stays,
        parking_rows([]) if parkings is None else parkings,
        slack_rows([]) if slacks is None else slacks,
        np.zeros(bows, dtype=np.int64),
    )


def fixed_places(*temperatures_c: float, scale: HeatScale = SCALE) -> dict[float, dict[int, PlaceHeat]]:
    """Places 0, 1, ... at fixed temperatures, for one activation energy."""
    places = {place: PlaceHeat.fixed(celsius, scale) for place, celsius in enumerate(temperatures_c)}
    return {scale.activation_energy_j_per_mol: places}


def _ints(entries: Sequence[tuple[float, ...]], column: int) -> npt.NDArray[np.int64]:
    return np.array([entry[column] for entry in entries], dtype=np.int64)


def _floats(entries: Sequence[tuple[float, ...]], column: int) -> npt.NDArray[np.float64]:
    return np.array([entry[column] for entry in entries], dtype=np.float64)
