"""What the register accepts: one range per quantity, in SI; wide enough for every bow, narrow enough for a slip.

The limits are common practice, no source: the largest and smallest bows made, with room to spare.
"""

import math
from dataclasses import dataclass

from fleet.refusal import OutOfRange, Refused
from fleet.vocabulary import MeasurementKind
from service.said import figure, mark, say, worded


@dataclass(frozen=True)
class Range:
    """An allowed range, both ends included, in `unit`; `whole` numbers only where things are counted."""

    name: str
    low: float
    high: float
    unit: str
    whole: bool = False

    def check(self, value: float, what_next: str = "") -> float:
        """Return the value, or refuse it with the value, the range, the unit and the next step."""
        if isinstance(value, bool) or not math.isfinite(value) or not self.low <= value <= self.high:
            text = say(
                "%(name)s %(value)s %(unit)s is outside %(low)s to %(high)s %(unit)s: %(step)s",
                **self._parts(value),
                low=figure(self.low, ".10g"),
                high=figure(self.high, ".10g"),
                step=what_next or say("check the unit and the digits, then enter it again."),
            )
            raise OutOfRange(worded(text), value, self.low, self.high, self.unit)
        if self.whole and value != int(value):
            text = say("%(name)s %(value)s %(unit)s is not a whole number: count them again.", **self._parts(value))
            raise Refused(worded(text))
        return value

    def _parts(self, value: float) -> dict[str, str]:
        return {"name": say(self.name), "value": figure(value, ".10g"), "unit": say(self.unit)}


SHOTS = Range(mark("shots"), 0, 5_000, mark("shots in one entry"), whole=True)
SHOTS_UNCERTAINTY = Range(mark("uncertainty of the count"), 0, 5_000, mark("shots"))
PRIOR_SHOTS = Range(mark("shots before the book began"), 0, 200_000, mark("shots"))
PRIOR_TENSION = Range(mark("hours strung before the book began"), 0, 270_000, "h")  # thirty years
PRIOR_HEAT = Range(mark("heat before the book began"), 0, 2_700_000, mark("h at the reference temperature"))
TEMPERATURE = Range(mark("temperature"), -50, 95, "degC")
OUTSIDE_TEMPERATURE = Range(mark("outside temperature"), -50, 60, "degC")
CORD_LENGTH = Range(mark("cord length"), 0.2, 3.5, "m")
CORD_DIAMETER = Range(mark("cord diameter"), 0.001, 0.006, "m")
STRANDS = Range(mark("strands"), 4, 60, mark("strands"), whole=True)
RATED_SHOTS = Range(mark("rated shots"), 100, 200_000, mark("shots"), whole=True)
RATED_MONTHS = Range(mark("rated months"), 1, 120, mark("months"))
TWISTS_PER_M = Range(mark("twists"), 0, 80, mark("turns per m"))
HALF_TWISTS = Range(mark("twists"), 0, 200, mark("half turns"), whole=True)
STRING_ARM = Range(mark("string arm"), 0.005, 0.15, "m")
TAKE_UP_ARM = Range(mark("take-up arm"), 0.003, 0.1, "m")
LET_OUT_ARM = Range(mark("let-out arm"), 0.001, 0.1, "m")
HOLE_TRAVEL = Range(mark("hole travel"), -0.1, 0.1, mark("m per rad"))
MARK_RADIUS = Range(mark("mark radius"), 0.005, 0.15, "m")
DRAW_LENGTH = Range(mark("draw length"), 0.3, 0.95, "m")
PEAK_WEIGHT = Range(mark("peak weight"), 20, 550, "N")
LIFE = Range(mark("hard limit"), 0.1, 3, mark("of rated life"))
LEAD_DAYS = Range(mark("lead time"), 0, 365, mark("days"), whole=True)
PRICE = Range(mark("price"), 0, 10_000, mark("in the site's currency"))
ORDER_QUANTITY = Range(mark("quantity"), 1, 100_000, mark("cords"), whole=True)
STOCK_COUNT = Range(mark("count"), 0, 100_000, mark("cords"), whole=True)
HOUR_OF_DAY = Range(mark("hour"), 0, 23, mark("o'clock"), whole=True)
MINUTES = Range(mark("bench minutes"), 0, 1_440, mark("minutes a day"), whole=True)

MEASUREMENTS: dict[str, Range] = {
    MeasurementKind.AXLE_TO_AXLE: Range(mark("axle to axle"), 0.4, 1.9, "m"),
    MeasurementKind.BRACE_HEIGHT: Range(mark("brace height"), 0.08, 0.35, "m"),
    MeasurementKind.DRAW_LENGTH: DRAW_LENGTH,
    MeasurementKind.PEAK_WEIGHT: PEAK_WEIGHT,
    MeasurementKind.HOLDING_WEIGHT: Range(mark("holding weight"), 2, 400, "N"),
    MeasurementKind.LET_OFF: Range(mark("let-off"), 0, 0.99, mark("of peak weight")),
    MeasurementKind.TILLER: Range(mark("tiller"), -0.03, 0.03, "m"),
    MeasurementKind.NOCKING_HEIGHT: Range(mark("nocking height"), -0.02, 0.03, "m"),
    MeasurementKind.CENTRE_SHOT: Range(mark("centre shot"), -0.01, 0.04, "m"),
    MeasurementKind.PEEP_HEIGHT: Range(mark("peep height"), 0.05, 0.25, "m"),
    MeasurementKind.LIMB_BOLT_TURNS: Range(mark("limb-bolt turns out"), 0, 12, mark("turns")),
    MeasurementKind.HOLE_DISTANCE_UPPER: Range(mark("reference hole distance"), -0.05, 0.05, "m"),
    MeasurementKind.HOLE_DISTANCE_LOWER: Range(mark("reference hole distance"), -0.05, 0.05, "m"),
    MeasurementKind.TIMING_MARK_UPPER: Range(mark("timing mark"), -0.05, 0.05, "m"),
    MeasurementKind.TIMING_MARK_LOWER: Range(mark("timing mark"), -0.05, 0.05, "m"),
    MeasurementKind.STOP_SYNC: Range(mark("stop sync"), -0.03, 0.03, "m"),
    MeasurementKind.TWISTS: Range(mark("twists"), 0, 100, mark("turns")),
}
