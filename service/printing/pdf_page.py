"""The page that every sheet shares: paper, margins, densities, headings, boxes, running head and foot."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.formats import get_format
from django.utils.translation import gettext as _
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfgen.canvas import Canvas

from service.printing.cautions import cautions, cautions_in_short, planning_aid
from service.printing.pdf_flow import Strip
from service.printing.pdf_text import (
    BOLD,
    REGULAR,
    height_of,
    printable,
    width_of,
    wrap,
    write,
    write_fitting,
    write_lines,
    write_right,
)

PAPERS: dict[str, tuple[float, float]] = {"letter": LETTER, "a4": A4}

# Points. The left margin leaves room for a hole punch or a clipboard's clamp.
LEFT, RIGHT, TOP, FOOT = 44.0, 28.0, 26.0, 46.0
RUNNING_HEAD = 40.0
HAIR, THIN, FIRM = 0.35, 0.7, 1.2  # line widths; a hair line still prints at 300 dpi


@dataclass(frozen=True)
class Density:
    """How closely a sheet is set; all in points."""

    text: float
    small: float
    gap: float
    row: float
    cord_row: float
    step: float
    sign: float
    pad: float


ROOMY = Density(text=9.5, small=7.6, gap=9.0, row=29.0, cord_row=46.0, step=17.0, sign=58.0, pad=6.0)
COMPACT = Density(text=8.6, small=7.0, gap=4.0, row=22.0, cord_row=36.0, step=12.6, sign=40.0, pad=3.0)


@dataclass(frozen=True)
class Frame:
    """The room inside the margins of one paper."""

    paper: tuple[float, float]

    @property
    def width(self) -> float:
        return self.paper[0] - LEFT - RIGHT

    @property
    def top(self) -> float:
        return self.paper[1] - TOP

    @property
    def height(self) -> float:
        return self.top - FOOT


def frame_for(paper: str) -> Frame:
    """The frame of a paper by its name."""
    try:
        return Frame(PAPERS[paper])
    except KeyError:
        raise ValueError(
            f"Paper '{paper}' is not one that the sheets are laid out for; choose {' or '.join(PAPERS)}."
        ) from None


def decimal_mark() -> str:
    """The decimal mark of the active language."""
    return str(get_format("DECIMAL_SEPARATOR"))


def heading(title: str, width: float, density: Density, note: str = "") -> Strip:
    """A section's title over a firm line, with a note at its right; the note wraps below if it must."""
    size = density.text + 1
    beside = wrap(note, REGULAR, density.small, width - 130.0)
    height = max(size * 1.5, height_of(beside, density.small) + 4)

    def draw(canvas: Canvas, top: float) -> None:
        bottom = top - height
        write(canvas, LEFT, bottom + 4, title, font=BOLD, size=size)
        for index, line in enumerate(reversed(beside)):
            baseline = bottom + 4 + index * density.small * 1.2
            write_right(canvas, LEFT + width, baseline, line, size=density.small)
        line_across(canvas, bottom, width, FIRM)

    return Strip(height, draw, with_next=True)


def line_across(canvas: Canvas, y: float, width: float, weight: float) -> None:
    """A line over the whole width."""
    canvas.setLineWidth(weight)
    canvas.line(LEFT, y, LEFT + width, y)


def box(canvas: Canvas, x: float, y: float, width: float, height: float, weight: float = THIN) -> None:
    """An empty box to write in, lower left corner at (x, y)."""
    canvas.setLineWidth(weight)
    canvas.rect(x, y, width, height)


def caution_box(width: float, density: Density, warnings: Sequence[str] = (), bow_kind: str = "") -> Strip:
    """The standing cautions of a bow kind in two columns, under this order's own warnings across the full width."""
    size = density.small + 0.4
    inner, column = width - 20.0, (width - 32.0) / 2
    own = [wrap(warning, BOLD, size + 1, inner) for warning in warnings]
    standing = [wrap(text, REGULAR, size, column - 8) for text in cautions(bow_kind)]
    columns = (standing[0::3], standing[1:3])  # the long first with the short last: even columns
    gap = 2.0
    own_height = sum(height_of(lines, size + 1) + gap for lines in own)
    tallest = max(sum(height_of(lines, size) + gap for lines in side) for side in columns)
    height = 8 + size * 1.5 + own_height + tallest + 4

    def draw(canvas: Canvas, top: float) -> None:
        box(canvas, LEFT, top - height + 2, width, height - 4, FIRM)
        canvas.rect(LEFT, top - height + 2, 5, height - 4, stroke=0, fill=1)
        y = top - 6
        y = write_lines(canvas, LEFT + 12, y, (_("Cautions"),), font=BOLD, size=size + 1)
        for lines in own:
            y = write_lines(canvas, LEFT + 12, y, lines, font=BOLD, size=size + 1) - gap
        for side, texts in enumerate(columns):
            x, below = LEFT + 12 + side * (column + 12), y
            for lines in texts:
                canvas.rect(x, below - size * 0.75, 3, 3, stroke=0, fill=1)
                below = write_lines(canvas, x + 8, below, lines, size=size) - gap

    return Strip(height, draw)


def running_head(canvas: Canvas, frame: Frame, left: str, right: str, bow_kind: str = "") -> None:
    """The head of a continued sheet, with the cautions in short: it may be read without its first page."""
    baseline = frame.top - 12
    write(canvas, LEFT, baseline, printable(left), font=BOLD, size=11)
    write_right(canvas, LEFT + frame.width, baseline, printable(right), size=9)
    line_across(canvas, frame.top - 18, frame.width, THIN)
    short = printable(cautions_in_short(bow_kind))
    write_fitting(canvas, LEFT, frame.top - 29, short, frame.width, font=BOLD, size=8.5)


def foot(canvas: Canvas, frame: Frame, left: str, right: str) -> None:
    """The foot of every page: what outranks the numbers, whose and when, which page of which sheet."""
    line_across(canvas, FOOT - 6, frame.width, HAIR)
    y = write_lines(canvas, LEFT, FOOT - 7, wrap(planning_aid(), REGULAR, 7.2, frame.width), size=7.2)
    right = printable(right)
    beside = width_of(right, BOLD, 8)
    write_right(canvas, LEFT + frame.width, y - 8, right, font=BOLD, size=8)
    write_fitting(canvas, LEFT, y - 8, printable(left), frame.width - beside - 12, size=7.2)
