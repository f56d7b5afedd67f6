"""Points of a picture drawn by a template: from the quantities on its axes to places in an SVG's own units."""

from dataclasses import dataclass

import numpy as np

from service.wear.arrays import Floats

WIDTH, HEIGHT = 480.0, 300.0
LEFT, RIGHT, TOP, BOTTOM = 52.0, 12.0, 12.0, 44.0
# Marks closer together than this look like one.
LEAST_APART = 1.5
NICE_STEPS = (0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 2.5, 5.0, 10.0)
MOST_TICKS = 8


@dataclass(frozen=True)
class Tick:
    """A place on an axis, in the picture's units, and what is written there."""

    at: float
    text: str


@dataclass(frozen=True)
class Axes:
    """A picture whose x runs from 0 to `right` and y from 0 to `top`."""

    right: float
    top: float = 1.0

    def x(self, value: float) -> float:
        """The place of a value on the x axis; one beyond the end is put at the end."""
        return round(LEFT + min(value, self.right) / self.right * (WIDTH - LEFT - RIGHT), 1)

    def y(self, value: float) -> float:
        """The place of a value on the y axis."""
        return round(HEIGHT - BOTTOM - min(value, self.top) / self.top * (HEIGHT - TOP - BOTTOM), 1)

    def line(self, xs: Floats, ys: Floats) -> str:
        """A line through points, as an SVG path."""
        return "M" + "L".join(f"{self.x(x)} {self.y(y)}" for x, y in zip(xs, ys, strict=True))

    def steps(self, xs: Floats, ys: Floats, until: float) -> str:
        """A step line from (0, 1) that takes the value of ys at each of xs, and ends at `until`."""
        path = f"M{self.x(0.0)} {self.y(1.0)}"
        for x, y in zip(xs, ys, strict=True):
            path += f"H{self.x(x)}V{self.y(y)}"
        return path + f"H{self.x(until)}"

    def band(self, xs: Floats, low: Floats, high: Floats) -> str:
        """The area between two lines."""
        back = "L".join(f"{self.x(x)} {self.y(y)}" for x, y in zip(xs[::-1], low[::-1], strict=True))
        return f"{self.line(xs, high)}L{back}Z"

    def step_band(self, xs: Floats, low: Floats, high: Floats, until: float) -> str:
        """The area between two step lines that begin at 1 and end at `until`."""
        path = self.steps(xs, high, until)
        for x, y in zip(xs[::-1], low[::-1], strict=True):
            path += f"V{self.y(y)}H{self.x(x)}"
        return f"{path}V{self.y(1.0)}Z"

    def marks(self, xs: Floats, ys: Floats) -> list[tuple[float, float]]:
        """The places of points, those that would lie on each other left out."""
        places: list[tuple[float, float]] = []
        for x, y in sorted(zip(xs.tolist(), ys.tolist(), strict=True)):
            place = (self.x(x), self.y(y))
            if not places or place[0] - places[-1][0] >= LEAST_APART or place[1] != places[-1][1]:
                places.append(place)
        return places

    def x_ticks(self) -> list[Tick]:
        """Round values along the x axis."""
        step = next((one for one in NICE_STEPS if self.right / one <= MOST_TICKS), NICE_STEPS[-1])
        values = np.arange(0.0, self.right + step / 100.0, step)
        return [Tick(self.x(float(value)), f"{value:g}") for value in values]

    def y_ticks_percent(self) -> list[Tick]:
        """Quarters of the y axis, in percent."""
        return [Tick(self.y(share * self.top), f"{100 * share * self.top:.0f} %") for share in (0, 0.25, 0.5, 0.75, 1)]
