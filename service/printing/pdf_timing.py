"""What the as-found readings say, on paper: the sentences, the twists to start from, and what should be read then."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate

from django.utils.translation import gettext as _
from reportlab.pdfgen.canvas import Canvas

from service.printing.pdf_flow import Strip, blank
from service.printing.pdf_page import HAIR, LEFT, Density, box, heading, line_across
from service.printing.pdf_text import BOLD, REGULAR, height_of, wrap, write_lines
from service.printing.sheets import TimingNote

TICK = 8.0
# Widths in points of reference, as found, should read; the name has the rest.
_COLUMNS = (70.0, 70.0, 200.0)


def timing_strips(note: TimingNote | None, width: float, density: Density) -> list[Strip]:
    """The note under its heading; nothing where nothing was found yet."""
    if note is None:
        return []
    title = heading(_("What the as-found readings say"), width, density)
    strips = [blank(density.gap), title, *(_sentence(line, width, density) for line in note.says)]
    strips += [_twist(line, width, density) for line in note.twists]
    if note.expected:
        edges = tuple(accumulate(_COLUMNS, initial=LEFT + width - sum(_COLUMNS)))
        titles = (_("With these twists in"), _("Reference"), _("As found"), _("Should read"))
        head = replace(_row(titles, BOLD, edges, width, density), with_next=True)
        rows = [_row(row, REGULAR, edges, width, density) for row in note.expected]
        # A head alone at the foot of a page says nothing; a table parted by a page has it again.
        strips += [head, *(replace(row, repeat=head) for row in rows)]
    return [*strips, _rests_on(note.rests_on, width, density)]


def _sentence(text: str, width: float, density: Density) -> Strip:
    lines = wrap(text, REGULAR, density.text, width - 10)

    def draw(canvas: Canvas, top: float) -> None:
        canvas.rect(LEFT, top - 2 - density.text * 0.7, 3, 3, stroke=0, fill=1)
        write_lines(canvas, LEFT + 10, top - 1, lines, size=density.text)

    return Strip(height_of(lines, density.text) + 3, draw)


def _twist(text: str, width: float, density: Density) -> Strip:
    """One cord's twists with a box to tick: bold, for it is what the hand does."""
    lines = wrap(text, BOLD, density.text + 1, width - TICK - 10)

    def draw(canvas: Canvas, top: float) -> None:
        box(canvas, LEFT, top - 3 - TICK, TICK, TICK)
        write_lines(canvas, LEFT + TICK + 6, top - 1, lines, font=BOLD, size=density.text + 1)

    return Strip(height_of(lines, density.text + 1) + 5, draw)


def _row(cells: Sequence[str], font: str, edges: tuple[float, ...], width: float, density: Density) -> Strip:
    wrapped = [wrap(cells[0], font, density.small + 0.6, edges[0] - LEFT - 6)]
    wrapped += [
        wrap(text, font, density.small + 0.6, column - 6) for text, column in zip(cells[1:], _COLUMNS, strict=True)
    ]
    height = max(height_of(lines, density.small + 0.6) for lines in wrapped) + 3

    def draw(canvas: Canvas, top: float) -> None:
        for x, lines in zip((LEFT, *(edge + 4 for edge in edges)), wrapped, strict=False):
            write_lines(canvas, x, top - 1, lines, font=font, size=density.small + 0.6)
        line_across(canvas, top - height, width, HAIR)

    return Strip(height, draw)


def _rests_on(text: str, width: float, density: Density) -> Strip:
    lines = wrap(text, REGULAR, density.small, width)

    def draw(canvas: Canvas, top: float) -> None:
        write_lines(canvas, LEFT, top - 2, lines, size=density.small)

    return Strip(height_of(lines, density.small) + 4, draw)
