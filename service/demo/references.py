"""The demo's measurements: each bow's reference set, and what a rule reads when its cords have stretched.

As-found readings come from the timing model's own kinematics, so that what the demo's closed orders teach is a bow's.
"""

from collections.abc import Mapping
from dataclasses import replace

from fleet.models import ReferenceSet
from fleet.record import Reading, ReferenceValue
from fleet.vocabulary import MeasurementKind as Kind
from fleet.vocabulary import ToolKind
from service.bow_geometry import geometry_of
from service.demo.makes import TOLERANCES, factory_values, inch, pound
from service.demo.shop import BowStory
from service.demo.use import generator
from service.timing.kinematics import drift
from service.timing.vocabulary import Position as TimingPosition

TOOL_FOR = {
    Kind.PEAK_WEIGHT: ToolKind.SCALE,
    Kind.HOLDING_WEIGHT: ToolKind.SCALE,
    Kind.LET_OFF: ToolKind.SCALE,
    Kind.DRAW_LENGTH: ToolKind.DRAW_BOARD,
    Kind.STOP_SYNC: ToolKind.DRAW_BOARD,
}
NOT_BY_RULE = {Kind.LET_OFF, Kind.TWISTS}


def reference_values(story: BowStory, half_twists: Mapping[str, int]) -> list[ReferenceValue]:
    """A bow's own reference values: the maker's, moved to its set-up and a little its own."""
    rng = generator(story.plan.tag, "references")
    weight = pound(story.plan.weight_lb)
    own = {Kind.PEAK_WEIGHT: weight, Kind.DRAW_LENGTH: inch(story.plan.draw_in)}
    if story.make.plan.cam_system:
        own[Kind.HOLDING_WEIGHT] = weight * (1.0 - story.make.plan.let_off)
    values = []
    for value in factory_values(story.make.plan):
        kind = Kind(value.kind)
        moved = own.get(kind, value.value + (0.0 if kind in NOT_BY_RULE else inch(int(rng.integers(-2, 3)) / 32)))
        if kind is Kind.STOP_SYNC:
            moved = 0.0
        values.append(replace(value, value=_as_read(story, kind, moved), tool_code=_tool(story, kind)))
    turns = [ReferenceValue(Kind.TWISTS, n / 2, TOLERANCES[Kind.TWISTS], place) for place, n in half_twists.items()]
    return [*values, *turns]


def maker_values(story: BowStory) -> list[ReferenceValue]:
    """The maker's sheet as it stands, for a bow that nobody has measured yet."""
    return factory_values(story.make.plan)


def readings(
    story: BowStory, references: ReferenceSet, stretch_m: Mapping[str, float], *, all_kinds: bool
) -> list[Reading]:
    """As found with the cords so much longer, as left back at the reference; only the quick ones on an inspection."""
    moved = drift(geometry_of(story.make.sheet), {TimingPosition(place): metres for place, metres in stretch_m.items()})
    changes = {str(kind): metres for kind, metres in moved.items()}
    found = []
    for one in references.measurements.order_by("kind"):
        kind = Kind(one.kind)
        if kind is Kind.TWISTS or not (all_kinds or kind in (Kind.BRACE_HEIGHT, Kind.PEAK_WEIGHT)):
            continue
        as_found = _as_read(story, kind, one.value + changes.get(one.kind, 0.0))
        left = one.value if all_kinds else None
        found.append(Reading(one.kind, as_found, left, tool_code=_tool(story, kind)))
    return found


def _tool(story: BowStory, kind: Kind) -> str:
    return story.crew.tools[TOOL_FOR.get(kind, ToolKind.RULE)]


def _as_read(story: BowStory, kind: Kind, value: float) -> float:
    """A value to the division of the tool that it is read with."""
    if kind is Kind.LET_OFF:
        return round(value, 2)
    if kind in (Kind.PEAK_WEIGHT, Kind.HOLDING_WEIGHT):
        step = 1.0 if story.crew.site.units == "metric" else pound(0.5)
    else:
        step = 0.0005 if story.crew.site.units == "metric" else inch(1 / 32)
    return round(value / step) * step
