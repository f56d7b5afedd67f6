"""What the cords of a bow went through on other bows, told as use that they brought along."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from fleet.models import Bow
from service.exposures import exposure_of
from service.gather import gather
from service.instants import epoch_s
from service.wear.arrays import SECONDS_PER_HOUR


@dataclass(frozen=True)
class EarlierUse:
    """Use on other bows and before the book; `shelf_h` is the shelf time until the first fitting on this bow."""

    weighted_shots: float
    tension_h: float
    heat_h: float
    shelf_h: float


def earlier_use(bow: Bow, now: datetime) -> dict[int, EarlierUse]:
    """By cord id, for the cords of a bow that were fitted to another bow too."""
    rows = gather([bow.pk], removed_too=True)
    keys, cords = rows.keys, rows.rows.cords
    parts = exposure_of(rows, cords, epoch_s(now))
    gap_h = np.nan_to_num((cords.fitted_s - cords.made_s) / SECONDS_PER_HOUR)
    found = {}
    for cord in np.unique(keys.cord[keys.bow != bow.pk]).tolist():
        there = (keys.cord == cord) & (keys.bow != bow.pk)
        first_here = np.flatnonzero((keys.cord == cord) & (keys.bow == bow.pk))[0]
        found[cord] = EarlierUse(
            float(parts.weighted_shots[there].sum()),
            float(parts.tension_h[there].sum()),
            float(parts.heat_h[there].sum()),
            float(parts.shelf_h[there].sum() + gap_h[first_here]),
        )
    return found
