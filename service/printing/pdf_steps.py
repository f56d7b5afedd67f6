"""What is done at the bench: parts, steps with tick boxes, what rests on assumptions, and the signatures."""

from collections.abc import Sequence
from dataclasses import replace

from django.utils.translation import gettext as _
from reportlab.pdfgen.canvas import Canvas

from service.printing.pdf_flow import Strip, blank
from service.printing.pdf_page import FIRM, HAIR, LEFT, Density, box, heading
from service.printing.pdf_text import BOLD, REGULAR, height_of, width_of, wrap, write, write_lines
from service.printing.sheets import PartLine, WorkOrderSheet

TICK = 10.0
NOTES_FROM = 44.0  # less room than this is not worth a box for notes
_NOTES_UP_TO = 150.0


def part_strips(parts: Sequence[PartLine], title: str, width: float, density: Density) -> list[Strip]:
    """Parts in two columns with tick boxes; nothing where none are needed."""
    if not parts:
        return []
    head = heading(title, width, density)
    rows = [replace(_part_row(parts[at : at + 2], width, density), repeat=head) for at in range(0, len(parts), 2)]
    return [blank(density.gap), head, blank(2), *rows]


def _part_row(parts: Sequence[PartLine], width: float, density: Density) -> Strip:
    column = width / 2
    wrapped = []
    for part in parts:
        name = f"{part.quantity} × {part.name}" + (f" – {part.where}" if part.where else "")
        wrapped.append(wrap(name, REGULAR, density.text, column - TICK - 16))
    height = max(density.step, max(height_of(lines, density.text) for lines in wrapped) + 3)

    def draw(canvas: Canvas, top: float) -> None:
        for index, lines in enumerate(wrapped):
            x = LEFT + index * column
            box(canvas, x, top - 2 - TICK, TICK, TICK)
            write_lines(canvas, x + TICK + 6, top - 1.5, lines, size=density.text)

    return Strip(height, draw)


def step_strips(steps: Sequence[str], width: float, density: Density) -> list[Strip]:
    """Numbered steps, each with its tick box; the last two stay with the signatures."""
    if not steps:
        return []
    head = heading(_("Steps, in this order"), width, density)
    rows = [
        replace(_step(number, text, width, density), with_next=number >= len(steps) - 1, repeat=head)
        for number, text in enumerate(steps, start=1)
    ]
    return [blank(density.gap), head, blank(2), *rows]


def _step(number: int, text: str, width: float, density: Density) -> Strip:
    text_at = LEFT + TICK + 26
    lines = wrap(text, REGULAR, density.text, LEFT + width - text_at)
    height = max(density.step, height_of(lines, density.text) + density.step - density.text * 1.22)

    def draw(canvas: Canvas, top: float) -> None:
        box(canvas, LEFT, top - 2 - TICK, TICK, TICK)
        write(canvas, LEFT + TICK + 6, top - 1.5 - density.text, f"{number}.", font=BOLD, size=density.text)
        write_lines(canvas, text_at, top - 1.5, lines, size=density.text)

    return Strip(height, draw)


def assumed_strips(sheet: WorkOrderSheet, width: float, density: Density) -> list[Strip]:
    """The line that names what rests on assumed coefficients."""
    if not sheet.assumed:
        return []
    label = _("Assumed, not measured:")
    size = density.small + 0.4
    indent = width_of(label, BOLD, size) + 5
    lines = wrap("; ".join(sheet.assumed), REGULAR, size, width - indent)

    def draw(canvas: Canvas, top: float) -> None:
        write_lines(canvas, LEFT, top - 3, (label,), font=BOLD, size=size)
        write_lines(canvas, LEFT + indent, top - 3, lines, size=size)

    return [Strip(height_of(lines, size) + 4, draw)]


def sign_off(sheet: WorkOrderSheet, width: float, density: Density) -> Strip:
    """Inside the bench tolerance or open with a reason, and the boxes to sign."""
    gap, size = 8.0, density.text
    columns = 3 if sheet.second_person else 2
    each = (width - gap * (columns - 1)) / columns
    titles = [_("Performed by"), _("Released by"), _("Second person")][:columns]
    why_second = wrap(sheet.second_person, REGULAR, density.small, each - 10)
    sign = density.sign + height_of(why_second, density.small)
    verdict = density.gap + 2 * (size + 8)
    height = verdict + sign + 4

    def draw(canvas: Canvas, top: float) -> None:
        y = top - density.gap
        _verdict(canvas, y, width, size)
        for index, title in enumerate(titles):
            x, bottom = LEFT + index * (each + gap), top - verdict - sign
            box(canvas, x, bottom, each, sign, FIRM)
            write(canvas, x + 5, top - verdict - size - 2, title, font=BOLD, size=size)
            if index == 2:
                write_lines(canvas, x + 5, top - verdict - size - 4, why_second, size=density.small)
            write(canvas, x + 5, bottom + 4, _("Name and signature"), size=6.5)
            write(canvas, x + each * 0.66, bottom + 4, _("Date and time"), size=6.5)

    return Strip(height, draw)


def _verdict(canvas: Canvas, top: float, width: float, size: float) -> None:
    inside = _("As left: everything is inside the bench tolerance")
    outside = _("Not inside: the order stays open, because")
    for index, text in enumerate((inside, outside)):
        y = top - index * (size + 8)
        box(canvas, LEFT, y - 2 - TICK, TICK, TICK)
        write(canvas, LEFT + TICK + 6, y - 1.5 - size, text, font=BOLD, size=size)
    line_from = LEFT + TICK + 12 + width_of(outside, BOLD, size)
    baseline = top - (size + 8) - 2 - TICK
    canvas.setLineWidth(HAIR)
    canvas.line(line_from, baseline, LEFT + width, baseline)


def notes(room: float, width: float) -> Strip | None:
    """A box for notes in the room that a page has left over, if that is worth one."""
    if room < NOTES_FROM:
        return None
    height = min(room, _NOTES_UP_TO)

    def draw(canvas: Canvas, top: float) -> None:
        box(canvas, LEFT, top - height + 2, width, height - 8)
        write(canvas, LEFT + 5, top - 15, _("Notes"), font=BOLD, size=7.5)

    return Strip(height, draw)
