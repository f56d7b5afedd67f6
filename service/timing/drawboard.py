"""What the draw board and the string jig check: let-off, AMO draw length, string length, brace height."""

from __future__ import annotations

from dataclasses import dataclass

from service.timing.units import INCH_M

AMO_PIVOT_TO_BACK_M = 1.75 * INCH_M
"""AMO draw length is the true draw (string to pivot point) plus 1 3/4 in."""
MASTER_STRING_SHORTER_M = 3.0 * INCH_M
"""AMO FP-3: the master string is 3 in shorter than the bow's marked length."""


def let_off_percent(peak_n: float, holding_n: float) -> float:
    """100 (1 - holding / peak), AMO/ASTM F1880. Any one unit of force will do. Raises ValueError."""
    return 100.0 * (1.0 - holding_share(peak_n, holding_n))


def holding_share(peak_n: float, holding_n: float) -> float:
    """Holding weight over peak weight, 0 to 1. Raises ValueError."""
    if not peak_n > 0.0:
        raise ValueError(f"peak weight of {peak_n} N must be above 0 N; draw the bow on the board and read the scale")
    if not 0.0 <= holding_n <= peak_n:
        raise ValueError(
            f"holding weight of {holding_n:.1f} N is outside 0 to the peak of {peak_n:.1f} N; read peak and "
            "holding again, they may be swapped"
        )
    return holding_n / peak_n


def holding_weight_n(peak_n: float, let_off_percentage: float) -> float:
    """The holding weight (N) that a let-off means at this peak weight."""
    if not 0.0 <= let_off_percentage <= 100.0:
        raise ValueError(f"let-off of {let_off_percentage} % is outside 0 to 100 %; take it from the spec sheet")
    return peak_n * (1.0 - let_off_percentage / 100.0)


def amo_draw_length_m(true_draw_m: float) -> float:
    """AMO draw length (m) of a true draw length (m)."""
    if not 0.3 <= true_draw_m <= 1.0:
        raise ValueError(
            f"true draw length of {true_draw_m / INCH_M:.2f} in is outside 11.8 to 39.4 in; measure from the "
            "string at full draw to the grip's pivot point"
        )
    return true_draw_m + AMO_PIVOT_TO_BACK_M


def true_draw_length_m(amo_draw_m: float) -> float:
    """True draw length (m) of an AMO draw length (m)."""
    true_m = amo_draw_m - AMO_PIVOT_TO_BACK_M
    amo_draw_length_m(true_m)
    return true_m


def master_string_length_m(marked_bow_length_m: float) -> float:
    """AMO FP-3: length (m) of the master string of a recurve or longbow of this marked length (m)."""
    if not 0.9 <= marked_bow_length_m <= 2.0:
        raise ValueError(
            f"marked bow length of {marked_bow_length_m / INCH_M:.1f} in is outside 35.4 to 78.7 in; read it on "
            "the lower limb"
        )
    return marked_bow_length_m - MASTER_STRING_SHORTER_M


@dataclass(frozen=True, slots=True)
class BraceHeightGuide:
    """Where a recurve's brace height is looked for first (m); the maker's own figure comes before it."""

    least_m: float
    most_m: float


_BRACE_HEIGHT_ROWS_IN = ((62.0, 64.0, 7.5, 8.5), (66.0, 68.0, 8.0, 9.0), (70.0, 72.0, 8.75, 9.5))
"""Bow length from, to; brace height from, to: a trade association's consumer guide."""
_MARKED_LENGTH_ROUNDING_IN = 0.01


def recurve_brace_height_guide(marked_bow_length_m: float) -> BraceHeightGuide | None:
    """The guide's range for a recurve of this marked length (m); None where the guide has no row."""
    marked_in = marked_bow_length_m / INCH_M
    for shortest, longest, least, most in _BRACE_HEIGHT_ROWS_IN:
        if shortest - _MARKED_LENGTH_ROUNDING_IN <= marked_in <= longest + _MARKED_LENGTH_ROUNDING_IN:
            return BraceHeightGuide(least * INCH_M, most * INCH_M)
    return None


def stop_sync_m(gap_at_second_stop_m: float, upper_touches_first: bool) -> float:
    """Stop sync signed as the kinematics do (m): positive when the upper stop touches first."""
    if gap_at_second_stop_m < 0.0:
        raise ValueError(
            f"a gap of {gap_at_second_stop_m * 1e3:.2f} mm cannot be negative; give the gap left at the second "
            "stop and say which one touches first"
        )
    return gap_at_second_stop_m if upper_touches_first else -gap_at_second_stop_m
