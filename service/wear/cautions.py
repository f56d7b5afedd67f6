"""What to do about a cord that got hot, whatever its life used says.

The three limits are assumed; HMPE melts at 144 to 152 degC (published), so they stand far below visible damage.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from service.said import Figure, mark, say
from service.wear.arrays import Ints
from service.wear.coefficients import DEFAULTS


class HeatCaution(IntEnum):
    """What the highest temperature met calls for; a higher one includes the lower."""

    NONE = 0
    NOTICE = 1
    INSPECT = 2
    HOLD = 3


_ACTIONS = {
    HeatCaution.NOTICE: mark("look the cords over at the next check"),
    HeatCaution.INSPECT: mark("inspect the cords before the next hire"),
    HeatCaution.HOLD: mark("hold the bow: do not draw it until the bench has inspected and released it"),
}


@dataclass(frozen=True)
class HeatLimits:
    """Temperatures (degC) above which each caution applies."""

    notice_c: float = DEFAULTS["heat_caution_notice"].value
    inspect_c: float = DEFAULTS["heat_caution_inspect"].value
    hold_c: float = DEFAULTS["heat_caution_hold"].value

    def __post_init__(self) -> None:
        if not self.notice_c < self.inspect_c < self.hold_c:
            raise ValueError(
                f"heat cautions {self.notice_c:g} / {self.inspect_c:g} / {self.hold_c:g} degC: must rise from notice "
                "to inspection to hold; change the one that is out of order"
            )

    def of(self, caution: HeatCaution) -> float:
        """The limit (degC) that was passed."""
        return {
            HeatCaution.NOTICE: self.notice_c,
            HeatCaution.INSPECT: self.inspect_c,
            HeatCaution.HOLD: self.hold_c,
        }[caution]


def heat_cautions(max_temperature_c: npt.ArrayLike, limits: HeatLimits | None = None) -> Ints:
    """`HeatCaution` values, one per highest temperature (degC); exactly at a limit is not above it; nan: none."""
    at = limits or HeatLimits()
    highest = np.asarray(max_temperature_c, dtype=np.float64)
    return np.searchsorted([at.notice_c, at.inspect_c, at.hold_c], np.nan_to_num(highest, nan=-np.inf), side="left")


def heat_caution(max_temperature_c: float, limits: HeatLimits | None = None) -> HeatCaution:
    """The caution for one highest temperature (degC)."""
    return HeatCaution(int(heat_cautions(max_temperature_c, limits)))


def celsius(temperature_c: float) -> str:
    """`72 °C`."""
    return f"{temperature_c:.0f} °C"


def caution_sentence(
    max_temperature_c: float, limits: HeatLimits | None = None, show: Callable[[float], str] = celsius
) -> str:
    """What happened, which limit it passed, what to do; empty where there is no caution.

    `show` writes a temperature in the site's unit.
    """
    at = limits or HeatLimits()
    caution = heat_caution(max_temperature_c, at)
    if caution is HeatCaution.NONE:
        return ""
    return say(
        "Cords reached %(reached)s, above %(limit)s (assumed limit): %(action)s.",
        reached=Figure(show(max_temperature_c)),
        limit=Figure(show(at.of(caution))),
        action=say(_ACTIONS[caution]),
    )
