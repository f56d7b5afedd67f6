"""Strips down a page: each knows its height and how to draw itself; the flow decides what goes on which page."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

_ROUNDING_PT = 1e-6  # heights are sums of floats


@dataclass(frozen=True)
class Strip:
    """A band across the page, `height` points high, drawn by `draw(canvas, top)`.

    `with_next` keeps it on the page of the strip that follows. `repeat` is the strip (a table's head) that stands
    again at the top of the page when the break falls just before this one.
    """

    height: float
    draw: Callable[[Canvas, float], None]
    with_next: bool = False
    repeat: "Strip | None" = None


def blank(height: float) -> Strip:
    """White space, kept with what follows."""
    return Strip(height, lambda canvas, top: None, with_next=True)


def paginate(strips: Sequence[Strip], first_room: float, room: float) -> list[list[Strip]]:
    """The strips page by page: `first_room` points on the first page, `room` on each further one.

    Strips kept together move together, unless no page holds them.
    """
    pages: list[list[Strip]] = [[]]
    left = first_room
    for group in _kept_together(strips):
        if left + _ROUNDING_PT < sum(strip.height for strip in group) <= room and pages[-1]:
            left = _turn(pages, group[0], room)
        for strip in group:
            if strip.height > left + _ROUNDING_PT and pages[-1]:
                left = _turn(pages, strip, room)
            pages[-1].append(strip)
            left -= strip.height
    return pages


def _turn(pages: list[list[Strip]], first: Strip, room: float) -> float:
    """Begin a page; the room left on it."""
    pages.append([first.repeat] if first.repeat else [])
    return room - (first.repeat.height if first.repeat else 0.0)


def _kept_together(strips: Sequence[Strip]) -> list[list[Strip]]:
    groups: list[list[Strip]] = [[]]
    for strip in strips:
        groups[-1].append(strip)
        if not strip.with_next:
            groups.append([])
    return [group for group in groups if group]


def draw_down(canvas: Canvas, strips: Sequence[Strip], top: float) -> None:
    """Draw strips one below the other from `top`."""
    for strip in strips:
        strip.draw(canvas, top)
        top -= strip.height
