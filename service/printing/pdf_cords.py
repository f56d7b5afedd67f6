"""The table of cords: what is fitted, how its life was used, twists, and boxes for what goes on."""

from dataclasses import replace
from itertools import accumulate

from django.utils.translation import gettext as _
from reportlab.pdfgen.canvas import Canvas

from service.printing.pdf_flow import Strip, blank
from service.printing.pdf_page import HAIR, LEFT, THIN, Density, box, decimal_mark, heading, line_across
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
)
from service.printing.sheets import CordRow, LifeUsed, WorkOrderSheet
from service.units import format_twists
from service.wording import short_day

# Widths in points of life used, turns counted last, turns for a new cord, new lot, new twists; the cord has the rest.
_COLUMNS = (140.0, 42.0, 76.0, 82.0, 58.0)
_BAR = 8.0
_AXIS = 1.25  # the bar shows up to this life used, or as far as the cord has gone


def cord_strips(sheet: WorkOrderSheet, width: float, density: Density) -> list[Strip]:
    """Heading, table head and one strip per cord; nothing for an order that touches no cord."""
    if not sheet.cords:
        return []
    edges = tuple(accumulate(_COLUMNS, initial=LEFT + width - sum(_COLUMNS)))
    head = _head(edges, width, density)
    note = _("bar: shots black, time hatched, heat white; tick: rated life, 1 in 10 expected condemned")
    title = heading(_("Cords"), width, density, note)
    rows = [_row(cord, edges, width, density, head) for cord in sheet.cords]
    return [
        blank(density.gap),
        title,
        head,
        # One bow's cords are read together, with the line that says what they rest on, if any.
        *(replace(row, with_next=True) for row in rows[:-1]),
        replace(rows[-1], with_next=bool(sheet.assumed)),
    ]


def _head(edges: tuple[float, ...], width: float, density: Density) -> Strip:
    size = density.small
    titles = (_("Life used"), _("Turns counted"), _("Put into a new cord"), _("New lot or serial"), _("Half turns now"))
    wrapped = [wrap(title, BOLD, size, column - 6) for title, column in zip(titles, _COLUMNS, strict=True)]
    height = max(height_of(lines, size) for lines in wrapped) + 4

    def draw(canvas: Canvas, top: float) -> None:
        write(canvas, LEFT, top - 2 - size, _("Cord"), font=BOLD, size=size)
        for x, lines in zip(edges, wrapped, strict=False):
            write_lines(canvas, x + 4, top - 2, lines, font=BOLD, size=size)
        line_across(canvas, top - height, width, HAIR)

    return Strip(height, draw, with_next=True)


def _row(cord: CordRow, edges: tuple[float, ...], width: float, density: Density, head: Strip) -> Strip:
    room = edges[0] - LEFT - 6
    named = _("%(cord)s: replace") % {"cord": cord.position} if cord.to_be_replaced else cord.position
    name = wrap(named, BOLD, density.text, room)
    about = wrap(_about(cord), REGULAR, density.small, room)
    life = wrap(_life_told(cord.life), REGULAR, density.small, _COLUMNS[0] - 10)
    start = wrap(cord.start_from, BOLD, density.text, _COLUMNS[2] - 6)
    height = max(
        density.cord_row,
        height_of(name, density.text) + height_of(about, density.small) + density.pad,
        height_of(life, density.small) + density.text + _BAR + 7 + density.pad,
        height_of(start, density.text) + density.pad,
    )

    def draw(canvas: Canvas, top: float) -> None:
        y = write_lines(canvas, LEFT, top - 2, name, font=BOLD, size=density.text)
        write_lines(canvas, LEFT, y, about, size=density.small)
        _draw_life(canvas, cord.life, edges[0] + 4, top - 2, density, life)
        twists = "–" if cord.half_twists_fitted is None else format_twists(cord.half_twists_fitted / 2)
        write(canvas, edges[1] + 4, top - 2 - density.text, twists, size=density.text)
        write_lines(canvas, edges[2] + 4, top - 2, start, font=BOLD, size=density.text)
        for index in (3, 4):
            left, right = edges[index] + 2, edges[index + 1]
            box(canvas, left, top - height + 3, right - left, height - 6)
        line_across(canvas, top - height, width, HAIR)

    return Strip(height, draw, repeat=head)


def _about(cord: CordRow) -> str:
    fitted = (
        _("fitted %(when)s") % {"when": short_day(cord.fitted_on)} if cord.fitted_on else _("fitting date not recorded")
    )
    lot = _("lot %(lot)s") % {"lot": cord.lot} if cord.lot else ""
    return ", ".join(part for part in (cord.spec, lot, fitted) if part)


def _share(value: float) -> str:
    return f"{value:.2f}".replace(".", decimal_mark())


def _life_told(life: LifeUsed | None) -> str:
    if life is None:
        return _("use before the book began is unknown: inspect before hire")
    told = {"shots": _share(life.shots), "time": _share(life.time), "heat": _share(abs(life.heat))}
    if round(life.heat, 2) < 0.0:
        return _("shots %(shots)s + time %(time)s - %(heat)s kept colder than the reference temperature") % told
    return _("shots %(shots)s + time %(time)s + heat %(heat)s") % told


def _draw_life(
    canvas: Canvas, life: LifeUsed | None, x: float, top: float, density: Density, told: tuple[str, ...]
) -> None:
    """The total, a bar of its shares (shots solid, time hatched, heat open) with a mark at 1, and the shares."""
    total, size = _("unknown") if life is None else _share(life.total), density.text + 1
    write(canvas, x, top - density.text, total, font=BOLD, size=size)
    if life is not None and life.label:
        after = width_of(total, BOLD, size) + 6
        label = printable(life.label)
        write_fitting(canvas, x + after, top - density.text, label, _COLUMNS[0] - after - 8, size=density.small)
    y = top - density.text - 4 - _BAR
    if life is not None:
        _draw_bar(canvas, life, x, y, _COLUMNS[0] - 14)
    write_lines(canvas, x, y - 2 if life is not None else y + _BAR, told, size=density.small)


def _draw_bar(canvas: Canvas, life: LifeUsed, x: float, y: float, width: float) -> None:
    """A share below 0 (a cold store) has no length; the total in figures above the bar holds it."""
    shares = [max(share, 0.0) for share in (life.shots, life.time, life.heat)]
    scale = width / max(_AXIS, sum(shares))
    canvas.setLineWidth(THIN)
    lengths = [share * scale for share in shares]
    canvas.rect(x, y, lengths[0], _BAR, fill=1)
    canvas.rect(x + lengths[0], y, lengths[1], _BAR)
    _hatch(canvas, x + lengths[0], y, lengths[1])
    canvas.rect(x + lengths[0] + lengths[1], y, lengths[2], _BAR)
    canvas.setLineWidth(HAIR)
    canvas.line(x, y, x + width, y)
    canvas.setLineWidth(2 * THIN)
    canvas.line(x + scale, y - 2, x + scale, y + _BAR + 2)


def _hatch(canvas: Canvas, x: float, y: float, width: float) -> None:
    """Slanted lines inside a box of the bar's height."""
    spacing = 3.0
    path = canvas.beginPath()
    offset = spacing - _BAR
    while offset < width:
        start, end = max(offset, 0.0), min(offset + _BAR, width)
        path.moveTo(x + start, y + start - offset)
        path.lineTo(x + end, y + end - offset)
        offset += spacing
    canvas.setLineWidth(THIN)
    canvas.drawPath(path, stroke=1, fill=0)
