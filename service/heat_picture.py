"""Heat hours day by day as bars: coordinates for a drawing made by a template, and the words that go with them."""

import math
from dataclasses import dataclass

from service.place_heat import DayOfHeat

WIDTH, HEIGHT = 640, 180
LEFT, RIGHT, TOP, FOOT = 44, 8, 10, 24
HOURS_PER_DAY = 24.0
MOST_LABELS = 6


@dataclass(frozen=True)
class Bar:
    """One day's bar in the drawing's units; `hollow`: part of the day was assumed."""

    x: float
    y: float
    width: float
    height: float
    hollow: bool
    day: DayOfHeat


@dataclass(frozen=True)
class Line:
    """A line across at so many heat hours, and its label."""

    y: float
    text: str
    is_reference: bool


@dataclass(frozen=True)
class HeatPicture:
    """The whole drawing."""

    width: int
    height: int
    left: int
    right: int
    foot: float
    bars: tuple[Bar, ...]
    lines: tuple[Line, ...]
    labels: tuple[Bar, ...]


def heat_picture(by_day: tuple[DayOfHeat, ...]) -> HeatPicture:
    """Bars of heat hours; the line at 24 h is a day spent at the reference temperature."""
    most = max([HOURS_PER_DAY, *(one.heat_h for one in by_day)])
    step = HOURS_PER_DAY * max(1, math.ceil(most / HOURS_PER_DAY / 4))
    top = step * math.ceil(most / step)
    foot = HEIGHT - FOOT
    scale = (foot - TOP) / top
    wide = (WIDTH - LEFT - RIGHT) / max(1, len(by_day))
    bars = tuple(
        Bar(
            round(LEFT + n * wide + wide * 0.1, 2),
            round(foot - one.heat_h * scale, 2),
            round(wide * 0.8, 2),
            round(one.heat_h * scale, 2),
            one.has_gap,
            one,
        )
        for n, one in enumerate(by_day)
    )
    marks = sorted({HOURS_PER_DAY, *(step * n for n in range(math.ceil(top / step) + 1))})
    lines = tuple(Line(round(foot - at * scale, 2), f"{at:.0f}", at == HOURS_PER_DAY) for at in marks)
    every = max(1, math.ceil(len(bars) / MOST_LABELS))
    return HeatPicture(WIDTH, HEIGHT, LEFT, WIDTH - RIGHT, foot, bars, lines, bars[::every])
