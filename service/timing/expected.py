"""What each measurement should read once the proposed twists are in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.timing.directions import Direction, expected_directions
from service.timing.geometry import Geometry
from service.timing.kinematics import drift, kinds_on_assumed
from service.timing.twists import TwistAdvice, TwistProposal
from service.timing.vocabulary import MeasurementKind, Position

STOP_RATIO = "stops.full_draw_ratio"


@dataclass(frozen=True, slots=True)
class ExpectedReading:
    """What a measurement should read after the twists (SI), or only the way it should go."""

    kind: MeasurementKind
    found_si: float
    expected_si: float | None
    direction: Direction
    rests_on_assumed: bool


def expected_after(
    geometry: Geometry, found_si: Mapping[MeasurementKind, float], proposals: Sequence[TwistProposal]
) -> dict[MeasurementKind, ExpectedReading]:
    """What each reading as found should become. The kinematics' kinds get a number; draw length, weights, brace
    height and tiller the expected direction; a kind that twists do not move is left out."""
    stretch: dict[Position, float] = {proposal.position: -_shortening_m(proposal) for proposal in proposals}
    changes = drift(geometry, stretch)
    directions = expected_directions(geometry, stretch)
    twists_on_assumed, on_assumed = _twists_rest_on_assumed(geometry), kinds_on_assumed(geometry)
    expected = {}
    for kind, found in found_si.items():
        assumed = twists_on_assumed or kind in on_assumed
        if kind in changes:
            change = changes[kind]
            way = Direction.RISES if change > 0 else Direction.FALLS if change < 0 else Direction.UNCHANGED
            expected[kind] = ExpectedReading(kind, found, found + change, way, assumed)
        elif kind in directions:
            expected[kind] = ExpectedReading(kind, found, None, directions[kind], assumed)
    return expected


def _twists_rest_on_assumed(geometry: Geometry) -> bool:
    """Does the diagnosis that the twists answer rest on an assumed value? It leaves stop sync out, and with it the
    stops' values, for as long as their ratio is assumed."""
    names = geometry.assumed_names()
    if STOP_RATIO in names:
        names = tuple(name for name in names if not name.startswith("stops."))
    return bool(names)


def _shortening_m(proposal: TwistProposal) -> float:
    """By half turns what they are expected to do; until the mark returns, or with a new cord, what was wanted."""
    if proposal.advice in (TwistAdvice.UNTIL_MARK_RETURNS, TwistAdvice.REPLACE):
        return proposal.wanted_shortening_m
    return proposal.expected_shortening_m
