"""What a chain's sites have in common, and the bows of one of them."""

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from fleet.models import Site

NOW = datetime(2026, 7, 1, 4, tzinfo=UTC)
BOWS = 500
HOUR_S, DAY_S = 3_600, 86_400
IN_SERVICE_DAYS = 400
NOW_S = int(NOW.timestamp())
FIRST_S = NOW_S - IN_SERVICE_DAYS * DAY_S
MAKES = {"single": 0.2, "hybrid": 0.25, "twin": 0.25, "binary": 0.2, "": 0.1}
"""Share of the bows by cam system; without one it is a recurve."""
MOST_CORDS = 6
"""Cords of a bow: the set that is on it and the one before."""
RATED_SHOTS, RATED_MONTHS = 8_000, 24.0
FRESH = 0.005
"""The share of a set's life below which none is drawn: some are being shot in."""


@dataclass(frozen=True)
class Drawn:
    """A site's bows: ids, which make each is of, shots a day, and how many days ago its set was put on."""

    number: int
    site: Site
    bow: npt.NDArray[np.int64]
    sheet: npt.NDArray[np.int64]
    shots_per_day: npt.NDArray[np.float64]
    set_age_days: npt.NDArray[np.float64]
