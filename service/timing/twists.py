"""How much a twist shortens a cord, and how many half turns to start from.

A cord of length L and diameter d with n whole turns: its fibres lie on helices whose squared radius is d^2/8 on
the mean, so it is shorter than its fibres by about pi^2 n^2 d^2 / (4 L). One more turn shortens it by the slope
of that, which grows with the turns already in: that is why twists are part of the reference set. It is the mean
over fibres, an estimate to start from; the marks decide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import scipy

from service.said import say
from service.timing.geometry import DEFAULT_CORD_DIAMETER_M
from service.timing.phrases import Phrase, Quantity, QuantityKind, half_turns, length
from service.timing.units import INCH_M
from service.timing.vocabulary import Position, name_of

BENCH_STEP_M = INCH_M / 16
"""What is told of each cord before its readings: common practice, no source."""
LEAST_TURNS_FOR_ESTIMATE = 5.0
"""Below this many whole turns the slope of the formula is worthless."""


@dataclass(frozen=True, slots=True)
class TwistRange:
    """The turns per length (1/m) that the cord spec allows, lowest and highest."""

    least_per_m: float
    most_per_m: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.least_per_m < self.most_per_m <= 200.0:
            raise ValueError(
                f"twist range of {self.least_per_m * INCH_M:.2f} to {self.most_per_m * INCH_M:.2f} turns per inch "
                "must rise and lie within 0 to 5; take it from the cord spec"
            )


def twist_range_per_inch(least: float, most: float) -> TwistRange:
    return TwistRange(least / INCH_M, most / INCH_M)


@dataclass(frozen=True, slots=True)
class TwistedLength:
    """A cord, or one leg of a yoke: length (m), diameter (m), whole turns now in it (half turns are .5)."""

    length_m: float
    turns: float
    diameter_m: float = DEFAULT_CORD_DIAMETER_M

    def __post_init__(self) -> None:
        if not 0.02 <= self.length_m <= 4.0:
            raise ValueError(
                f"cord length of {self.length_m * 1e3:.0f} mm is outside 20 to 4000 mm; take it from the cord spec"
            )
        if not 0.5e-3 <= self.diameter_m <= 8e-3:
            raise ValueError(
                f"cord diameter of {self.diameter_m * 1e3:.2f} mm is outside 0.5 to 8 mm; measure it clear of a "
                "serving, or leave it empty to use the assumed value"
            )
        if not 0.0 <= self.turns <= 200.0:
            raise ValueError(f"{self.turns} turns is outside 0 to 200 whole turns; count them again from one end loop")
        if tan_surface_angle(self.length_m, self.diameter_m, self.turns) > 1.0:
            raise ValueError(
                f"{self.turns} turns in {self.length_m * 1e3:.0f} mm put the fibres over 45 degrees from the "
                "cord's line, where no cord works; count the turns again"
            )


class TwistPlace(StrEnum):
    CORD = "cord"
    EACH_YOKE_LEG = "each_yoke_leg"


@dataclass(frozen=True, slots=True)
class Cord:
    """A fitted cord as far as twisting goes.

    `yoke_leg`, where the legs are twisted and not the body, is one of two equal legs. `has_yoke` without it: the
    legs' length is not known, so the turns are those of the single end. `shortening_factor` is learned from closed
    orders (1 = the formula). `turns_counted` False: nobody has counted them, so no number rests on them.
    """

    position: Position
    body: TwistedLength
    yoke_leg: TwistedLength | None = None
    twist_range: TwistRange | None = None
    shortening_factor: float = 1.0
    turns_counted: bool = True
    has_yoke: bool = False

    def __post_init__(self) -> None:
        if not 0.2 <= self.shortening_factor <= 5.0:
            raise ValueError(
                f"shortening factor of {self.shortening_factor:.2f} is outside 0.2 to 5; check the twists "
                "recorded in the closed orders that it was learned from"
            )

    @property
    def place(self) -> TwistPlace:
        return TwistPlace.CORD if self.yoke_leg is None else TwistPlace.EACH_YOKE_LEG

    @property
    def twisted(self) -> TwistedLength:
        """What is twisted: the legs of a yoke, both alike, or the cord itself."""
        return self.yoke_leg or self.body


class TwistAdvice(StrEnum):
    LEAVE = "leave"
    TWIST = "twist"
    UNTIL_MARK_RETURNS = "until_mark_returns"
    REPLACE = "replace"


@dataclass(frozen=True, slots=True)
class TwistProposal:
    """Half turns to start from (positive adds) in the cord or in each of its yoke legs, what they should shorten
    it by (m), and the whole turns then in it. No half turns unless the advice is TWIST."""

    position: Position
    advice: TwistAdvice
    place: TwistPlace
    half_turns: int
    wanted_shortening_m: float
    expected_shortening_m: float
    turns_after: float
    phrase: Phrase


def tan_surface_angle(length_m: float, diameter_m: float, turns: float) -> float:
    """Tangent of the helix angle of the outermost fibres: pi d n / L."""
    return math.pi * diameter_m * abs(turns) / length_m


def contraction_small_m(length_m: float, diameter_m: float, turns: float) -> float:
    """Fibre length minus cord length (m), small twist: pi^2 n^2 d^2 / (4 L)."""
    return (math.pi * turns * diameter_m) ** 2 / (4.0 * length_m)


def mean_fibre_length_m(length_m: float, diameter_m: float, turns: float) -> float:
    """Mean over the cord's section of sqrt(L^2 + (2 pi r n)^2) (m): (2/3)(sec^3 a - 1)/tan^2 a lengths L."""
    tan_squared = tan_surface_angle(length_m, diameter_m, turns) ** 2
    if tan_squared < 1e-9:
        return length_m * (1.0 + tan_squared / 4.0)
    return length_m * 2.0 / 3.0 * ((1.0 + tan_squared) ** 1.5 - 1.0) / tan_squared


def contraction_mean_m(length_m: float, diameter_m: float, turns: float) -> float:
    """Fibre length minus cord length (m), mean over the radii of the cord's section."""
    return mean_fibre_length_m(length_m, diameter_m, turns) - length_m


def retraction(surface_angle_rad: float) -> float:
    """Share of the untwisted length that is lost: tan^2(a/2), a the helix angle of the outermost fibres
    (Hearle, Grosberg & Backer 1969, from memory)."""
    if not 0.0 <= surface_angle_rad < math.pi / 2:
        raise ValueError(f"helix angle of {math.degrees(surface_angle_rad):.1f} deg is outside 0 to 90 deg")
    return math.tan(surface_angle_rad / 2.0) ** 2


def shortening_m(cord: TwistedLength, turns_added: float, factor: float = 1.0) -> float:
    """What `turns_added` (negative takes out) shorten the cord by (m): its fibres keep their mean length."""
    fibre_m = mean_fibre_length_m(cord.length_m, cord.diameter_m, cord.turns)
    after = abs(cord.turns + turns_added)
    if after == 0.0:
        return factor * (cord.length_m - fibre_m)
    # No cord is longer than its fibres; and the mean fibre is never longer than the outermost one.
    outermost = (math.pi * cord.diameter_m * after) ** 2
    if outermost >= fibre_m**2:
        raise ValueError(
            f"{after:.1f} turns do not fit into {cord.length_m * 1e3:.0f} mm of cord; "
            "count the turns again or replace the cord"
        )
    shortest = math.sqrt(fibre_m**2 - outermost)

    def surplus_m(length_m: float) -> float:
        return mean_fibre_length_m(length_m, cord.diameter_m, after) - fibre_m

    after_m: float = scipy.optimize.brentq(surplus_m, shortest, fibre_m * (1.0 + 1e-12), xtol=1e-13)
    return factor * (cord.length_m - after_m)


def shortening_of_one_more_turn_m(cord: TwistedLength) -> float:
    """Slope of the small-twist formula (m per turn): pi^2 n d^2 / (2 L)."""
    return math.pi**2 * cord.turns * cord.diameter_m**2 / (2.0 * cord.length_m)


def turns_for_shortening(cord: TwistedLength, wanted_m: float, factor: float = 1.0) -> float | None:
    """Whole turns to add (negative: take out) for a wanted shortening; None when taking all out is not enough.

    Small-twist formula: n'^2 = n^2 + 4 L w / (pi^2 d^2).
    """
    squared = cord.turns**2 + 4.0 * cord.length_m * (wanted_m / factor) / (math.pi * cord.diameter_m) ** 2
    return None if squared < 0.0 else math.sqrt(squared) - cord.turns


def propose(cord: Cord, wanted_shortening_m: float) -> TwistProposal:
    """Twists to start from for a wanted shortening (m, negative lets out), or why not to twist."""
    twisted = cord.twisted
    if not cord.turns_counted:
        advice = TwistAdvice.UNTIL_MARK_RETURNS if wanted_shortening_m else TwistAdvice.LEAVE
        return _untwisted(cord, advice, wanted_shortening_m)
    turns = turns_for_shortening(twisted, wanted_shortening_m, cord.shortening_factor)
    if turns is None or not _within(cord.twist_range, twisted, turns):
        return _untwisted(cord, TwistAdvice.REPLACE, wanted_shortening_m)
    count = round(2.0 * turns)
    if twisted.turns < LEAST_TURNS_FOR_ESTIMATE:
        advice = TwistAdvice.UNTIL_MARK_RETURNS if wanted_shortening_m else TwistAdvice.LEAVE
        return _untwisted(cord, advice, wanted_shortening_m)
    if count == 0:
        return _untwisted(cord, TwistAdvice.LEAVE, wanted_shortening_m)
    if not _within(cord.twist_range, twisted, count / 2.0):
        count += -1 if count > 0 else 1
    if count == 0:
        return _untwisted(cord, TwistAdvice.REPLACE, wanted_shortening_m)
    return TwistProposal(
        position=cord.position,
        advice=TwistAdvice.TWIST,
        place=cord.place,
        half_turns=count,
        wanted_shortening_m=wanted_shortening_m,
        expected_shortening_m=shortening_m(twisted, count / 2.0, cord.shortening_factor),
        turns_after=twisted.turns + count / 2.0,
        phrase=_twist_phrase(cord, count),
    )


def _within(allowed: TwistRange | None, cord: TwistedLength, turns_added: float) -> bool:
    after_per_m = (cord.turns + turns_added) / cord.length_m
    if allowed is None:
        return tan_surface_angle(cord.length_m, cord.diameter_m, cord.turns + turns_added) <= 1.0
    if turns_added > 0.0:
        return after_per_m <= allowed.most_per_m
    return turns_added == 0.0 or after_per_m >= allowed.least_per_m


def _twist_phrase(cord: Cord, count: int) -> Phrase:
    name, turns, at = name_of(cord.position), half_turns(abs(count)), _where(cord)
    if count > 0:
        return say("%(cord)s: add %(turns)s%(where)s", cord=name, turns=turns, where=at)
    return say("%(cord)s: take out %(turns)s%(where)s", cord=name, turns=turns, where=at)


def _where(cord: Cord) -> str:
    if cord.place is TwistPlace.EACH_YOKE_LEG:
        return say(" in each yoke leg, both alike")
    if not cord.has_yoke:
        return ""
    return say(" at its single end; or, instead, the yoke: both legs alike, until the mark returns")


def bench_step_phrase(cord: Cord) -> Phrase:
    """How many half turns shorten a cord by a step that a rule reads: the number to have in hand at the press."""
    name, twisted = name_of(cord.position), cord.twisted
    if not cord.turns_counted:
        return say("%(cord)s: count its turns first", cord=name)
    if twisted.turns < LEAST_TURNS_FOR_ESTIMATE:
        few = Quantity(twisted.turns, QuantityKind.TURNS)
        return say("%(cord)s: only %(few)s in it, twist until the mark returns", cord=name, few=few)
    step = propose(cord, BENCH_STEP_M)
    if step.advice is not TwistAdvice.TWIST:
        return say("%(cord)s: no room for more within the cord spec's range: replace, do not twist", cord=name)
    each = say(" at its single end") if cord.has_yoke else ""
    each = say(" in each yoke leg") if cord.place is TwistPlace.EACH_YOKE_LEG else each
    return say(
        "%(cord)s: %(turns)s more%(where)s shorten it by about %(step)s",
        cord=name,
        turns=half_turns(step.half_turns),
        where=each,
        step=length(BENCH_STEP_M),
    )


def _untwisted(cord: Cord, advice: TwistAdvice, wanted_m: float) -> TwistProposal:
    name, turns = name_of(cord.position), cord.twisted.turns
    if advice is TwistAdvice.LEAVE:
        phrase = say("%(cord)s: leave as it is, less than half a turn away", cord=name)
    elif advice is TwistAdvice.REPLACE:
        phrase = say(
            "%(cord)s: to change its length by %(change)s would need twists outside the cord spec's range: replace, do "
            "not twist",
            cord=name,
            change=length(abs(wanted_m)),
        )
    elif cord.turns_counted:
        few = Quantity(turns, QuantityKind.TURNS)
        phrase = say(
            "%(cord)s: with only %(few)s in it there is no estimate; %(twist)s until the mark returns",
            cord=name,
            few=few,
            twist=_by_the_mark(cord, wanted_m),
        )
    else:
        phrase = say(
            "%(cord)s: its turns were never counted, so there is no estimate; count them, then %(twist)s until the "
            "mark returns",
            cord=name,
            twist=_by_the_mark(cord, wanted_m),
        )
    return TwistProposal(cord.position, advice, cord.place, 0, wanted_m, 0.0, turns, phrase)


def _by_the_mark(cord: Cord, wanted_m: float) -> Phrase:
    """Which way to twist where no number can be given."""
    if cord.place is TwistPlace.CORD:
        return say("twist") if wanted_m > 0 else say("take twist out")
    if wanted_m > 0:
        return say("twist, both yoke legs alike,")
    return say("take twist out, both yoke legs alike,")
