"""Bows whose cords got hot since they were last looked over: a temperature that the house speaks of, inspects or holds
for."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial

import numpy as np

from service.exposures import heat_exposure_of
from service.gather import coefficients, gather
from service.instants import epoch_s
from service.models import CordWear
from service.needs import HeatFacts
from service.said import Figure
from service.units import Dimension, Units, format_quantity, to_si
from service.wear.cautions import HeatCaution, HeatLimits, caution_sentence, heat_caution
from service.wear.coefficients import Coefficient
from service.wear.rows import picked


def heat_alarms(wears: Sequence[CordWear], looked_over: Mapping[int, datetime], now: datetime) -> dict[int, HeatFacts]:
    """The alarm of each bow (by id) that has one; `looked_over` is when each bow last left the bench released.

    Few cords are ever so hot, so only their bows are gone through again.
    """
    limits = heat_limits()
    hot = {wear.fitting.bow_id: wear.fitting.bow for wear in wears if (wear.hottest_c or 0.0) > limits.notice_c}
    if not hot:
        return {}
    found = {}
    for bow_id, celsius in _hottest_since(sorted(hot), looked_over, now).items():
        caution = heat_caution(celsius, limits)
        if caution is not HeatCaution.NONE:
            told = caution_sentence(celsius, limits, partial(shown_celsius, Units(hot[bow_id].site.units)))
            found[bow_id] = HeatFacts(told, caution is HeatCaution.HOLD, caution >= HeatCaution.INSPECT)
    return found


def heat_limits(house: Mapping[str, Coefficient] | None = None) -> HeatLimits:
    """The house's limits, from its coefficients where they are known already."""
    house = house or coefficients().house
    return HeatLimits(*(house[f"heat_caution_{name}"].value for name in ("notice", "inspect", "hold")))


def shown_celsius(system: Units, celsius: float) -> Figure:
    """A temperature (degC) in the site's unit."""
    return Figure(format_quantity(to_si(celsius, "c"), Dimension.TEMPERATURE, system))


def _hottest_since(bow_ids: list[int], looked_over: Mapping[int, datetime], now: datetime) -> dict[int, float]:
    """Highest temperature (degC) that the cords on each bow now met since; bows without any are left out."""
    rows, now_s = gather(bow_ids), epoch_s(now)
    fitted = np.flatnonzero(rows.keys.is_fitted)
    cords = picked(rows.rows.cords, fitted)
    since = np.array([epoch_s(looked_over[pk]) if pk in looked_over else -np.inf for pk in rows.bow_ids.tolist()])
    cords = replace(cords, fitted_s=np.maximum(cords.fitted_s, since[cords.bow]))
    hottest = np.full(rows.bow_ids.size, -np.inf)
    np.fmax.at(hottest, cords.bow, heat_exposure_of(rows, cords, now_s, -np.inf).max_temperature_c)
    return {
        pk: celsius
        for pk, celsius in zip(rows.bow_ids.tolist(), hottest.tolist(), strict=True)
        if pk in set(bow_ids) and np.isfinite(celsius)
    }
