"""What the register accepts: one range per quantity, in SI; wide enough for every bow, narrow enough for a slip.

The limits are common practice, no source: the largest and smallest bows made, with room to spare.
"""

import math
from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.refusal import OutOfRange, Refused
from fleet.vocabulary import MeasurementKind


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
            step = what_next or "check the unit and the digits, then enter it again."
            allowed = f"{self.low:.10g} to {self.high:.10g} {self.unit}"
            text = f"{self.name} {value:.10g} {self.unit} is outside {allowed}: {step}"
            raise OutOfRange(text, value, self.low, self.high, self.unit)
        if self.whole and value != int(value):
            raise Refused(
                _("%(name)s %(value)s %(unit)s is not a whole number: count them again.")
                % {"name": self.name, "value": f"{value:.10g}", "unit": self.unit}
            )
        return value


SHOTS = Range("shots", 0, 5_000, "shots in one entry", whole=True)
SHOTS_UNCERTAINTY = Range("uncertainty of the count", 0, 5_000, "shots")
PRIOR_SHOTS = Range("shots before the book began", 0, 200_000, "shots")
PRIOR_TENSION = Range("hours strung before the book began", 0, 270_000, "h")  # thirty years
PRIOR_HEAT = Range("heat before the book began", 0, 2_700_000, "h at the reference temperature")
TEMPERATURE = Range("temperature", -50, 95, "degC")
OUTSIDE_TEMPERATURE = Range("outside temperature", -50, 60, "degC")
CORD_LENGTH = Range("cord length", 0.2, 3.5, "m")
CORD_DIAMETER = Range("cord diameter", 0.001, 0.006, "m")
STRANDS = Range("strands", 4, 60, "strands", whole=True)
RATED_SHOTS = Range("rated shots", 100, 200_000, "shots", whole=True)
RATED_MONTHS = Range("rated months", 1, 120, "months")
TWISTS_PER_M = Range("twists", 0, 80, "turns per m")
HALF_TWISTS = Range("twists", 0, 200, "half turns", whole=True)
STRING_ARM = Range("string arm", 0.005, 0.15, "m")
TAKE_UP_ARM = Range("take-up arm", 0.003, 0.1, "m")
LET_OUT_ARM = Range("let-out arm", 0.001, 0.1, "m")
HOLE_TRAVEL = Range("hole travel", -0.1, 0.1, "m per rad")
MARK_RADIUS = Range("mark radius", 0.005, 0.15, "m")
DRAW_LENGTH = Range("draw length", 0.3, 0.95, "m")
PEAK_WEIGHT = Range("peak weight", 20, 550, "N")
LIFE = Range("hard limit", 0.1, 3, "of rated life")
LEAD_DAYS = Range("lead time", 0, 365, "days", whole=True)
PRICE = Range("price", 0, 10_000, "in the site's currency")
ORDER_QUANTITY = Range("quantity", 1, 100_000, "cords", whole=True)
STOCK_COUNT = Range("count", 0, 100_000, "cords", whole=True)
HOUR_OF_DAY = Range("hour", 0, 23, "o'clock", whole=True)
MINUTES = Range("bench minutes", 0, 1_440, "minutes a day", whole=True)

MEASUREMENTS: dict[str, Range] = {
    MeasurementKind.AXLE_TO_AXLE: Range("axle to axle", 0.4, 1.9, "m"),
    MeasurementKind.BRACE_HEIGHT: Range("brace height", 0.08, 0.35, "m"),
    MeasurementKind.DRAW_LENGTH: DRAW_LENGTH,
    MeasurementKind.PEAK_WEIGHT: PEAK_WEIGHT,
    MeasurementKind.HOLDING_WEIGHT: Range("holding weight", 2, 400, "N"),
    MeasurementKind.LET_OFF: Range("let-off", 0, 0.99, "of peak weight"),
    MeasurementKind.TILLER: Range("tiller", -0.03, 0.03, "m"),
    MeasurementKind.NOCKING_HEIGHT: Range("nocking height", -0.02, 0.03, "m"),
    MeasurementKind.CENTRE_SHOT: Range("centre shot", -0.01, 0.04, "m"),
    MeasurementKind.PEEP_HEIGHT: Range("peep height", 0.05, 0.25, "m"),
    MeasurementKind.LIMB_BOLT_TURNS: Range("limb-bolt turns out", 0, 12, "turns"),
    MeasurementKind.HOLE_DISTANCE_UPPER: Range("reference hole distance", -0.05, 0.05, "m"),
    MeasurementKind.HOLE_DISTANCE_LOWER: Range("reference hole distance", -0.05, 0.05, "m"),
    MeasurementKind.TIMING_MARK_UPPER: Range("timing mark", -0.05, 0.05, "m"),
    MeasurementKind.TIMING_MARK_LOWER: Range("timing mark", -0.05, 0.05, "m"),
    MeasurementKind.STOP_SYNC: Range("stop sync", -0.03, 0.03, "m"),
    MeasurementKind.TWISTS: Range("twists", 0, 100, "turns"),
}
