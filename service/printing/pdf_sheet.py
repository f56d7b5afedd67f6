"""The bench sheet of one work order, laid out as strips."""

from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from reportlab.pdfgen.canvas import Canvas

from service.printing.pdf_code import Code
from service.printing.pdf_cords import cord_strips
from service.printing.pdf_flow import Strip, blank
from service.printing.pdf_measurements import measurement_strips
from service.printing.pdf_page import (
    FIRM,
    LEFT,
    RUNNING_HEAD,
    Density,
    box,
    caution_box,
    decimal_mark,
    heading,
    line_across,
)
from service.printing.pdf_steps import assumed_strips, part_strips, sign_off, step_strips
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
from service.printing.pdf_timing import timing_strips
from service.printing.sheets import WorkOrderSheet
from service.units import Dimension, format_quantity
from service.wording import short_day

CODE_SIDE = 92.0  # three dots a module at 100 dpi for an address of up to 60 characters
_TAG_WIDTH = 150.0


def sheet_strips(sheet: WorkOrderSheet, width: float, density: Density) -> list[Strip]:
    """Everything under the masthead, in the order in which a bench reads it."""
    return [
        *_why_strips(sheet, width, density),
        blank(density.gap * 0.6),
        caution_box(width, density, sheet.warnings, sheet.bow_kind),
        *measurement_strips(sheet, width, density),
        *timing_strips(sheet.diagnosis, width, density),
        *cord_strips(sheet, width, density),
        *assumed_strips(sheet, width, density),
        *part_strips(sheet.parts, _("Parts"), width, density),
        *step_strips(sheet.steps, width, density),
        sign_off(sheet, width, density),
    ]


def masthead(sheet: WorkOrderSheet, width: float) -> Strip:
    """Order number, bow tag, the bow's facts, and the code that opens the order."""
    left = width - CODE_SIDE - 6
    grid = [_fitted_row(row, left) for row in _bow_facts(sheet)]
    address = wrap(_("Open this order: %(url)s") % {"url": sheet.url}, REGULAR, 7.5, left)
    plan = wrap(_plan_line(sheet), REGULAR, 9, left)
    top_part = 28 + height_of(plan, 9) + 4
    height = top_part + sum(row.height for row in grid) + height_of(address, 7.5)
    height = max(height, CODE_SIDE) + 4

    def draw(canvas: Canvas, top: float) -> None:
        number_width = left - _TAG_WIDTH - 10
        write_fitting(canvas, LEFT, top - 19, _order_title(sheet.number), number_width, font=BOLD, size=20)
        box(canvas, LEFT + left - _TAG_WIDTH, top - 24, _TAG_WIDTH, 24, FIRM)
        _tag_in_box(canvas, LEFT + left - _TAG_WIDTH, top - 24, printable(sheet.bow.tag))
        y = write_lines(canvas, LEFT, top - 28, plan, size=9) - 4
        for row in grid:
            row.draw(canvas, y)
            y -= row.height
        write_lines(canvas, LEFT, y, address, size=7.5)
        Code(sheet.url, CODE_SIDE).drawOn(canvas, LEFT + width - CODE_SIDE + 8, top - CODE_SIDE + 8)
        line_across(canvas, top - height, width, FIRM)

    return Strip(max(height, RUNNING_HEAD), draw)


def _order_title(number: str) -> str:
    return printable(_("Order %(number)s") % {"number": number})


def _tag_in_box(canvas: Canvas, x: float, y: float, tag: str) -> None:
    label = _("Bow")
    taken = width_of(label, REGULAR, 8) + 12
    write(canvas, x + 6, y + 8, label, size=8)
    write_fitting(canvas, x + taken, y + 6, tag, _TAG_WIDTH - taken - 6, font=BOLD, size=17)


def _plan_line(sheet: WorkOrderSheet) -> str:
    return " · ".join(
        part
        for part in (
            f"{date_format(sheet.planned_on, 'l')} {short_day(sheet.planned_on)}",
            sheet.technician,
            _("%(minutes)d min") % {"minutes": sheet.minutes},
            sheet.shop,
            sheet.site,
        )
        if part
    )


def _bow_facts(sheet: WorkOrderSheet) -> tuple[tuple[tuple[str, str, float], ...], ...]:
    """Rows of (label, value, share of the width)."""
    bow = sheet.bow

    def reads(value: float | None, dimension: Dimension) -> str:
        if value is None:
            return _("not recorded")
        return format_quantity(value, dimension, sheet.units, decimal_mark=decimal_mark())

    return (
        (
            (_("Maker and model"), bow.model, 0.44),
            (_("Serial"), bow.serial, 0.28),
            (_("Hand"), bow.hand, 0.28),
        ),
        (
            (_("Kind"), ", ".join(part for part in (bow.kind, bow.cam_system) if part), 0.32),
            (_("Draw length, true"), reads(bow.draw_length_m, Dimension.LENGTH), 0.23),
            (_("Draw length, AMO"), reads(bow.amo_draw_length_m, Dimension.LENGTH), 0.23),
            (_("Peak weight"), reads(bow.peak_weight_n, Dimension.FORCE), 0.22),
        ),
    )


@dataclass(frozen=True)
class _FactRow:
    cells: tuple[tuple[float, str, tuple[str, ...]], ...]
    height: float

    def draw(self, canvas: Canvas, top: float) -> None:
        for x, label, lines in self.cells:
            write(canvas, x, top - 7, label, size=7)
            write_lines(canvas, x, top - 8, lines, font=BOLD, size=9.5)


def _fitted_row(row: tuple[tuple[str, str, float], ...], width: float) -> _FactRow:
    cells, x, tallest = [], LEFT, 0.0
    for label, value, share in row:
        lines = wrap(value or _("not recorded"), BOLD, 9.5, share * width - 8)
        cells.append((x, printable(label), lines))
        tallest = max(tallest, height_of(lines, 9.5))
        x += share * width
    return _FactRow(tuple(cells), tallest + 11)


def _why_strips(sheet: WorkOrderSheet, width: float, density: Density) -> list[Strip]:
    rows = [(reason.need, reason.why) for reason in sheet.reasons]
    if sheet.likely_cause:
        rows.append((_("Likely cause"), sheet.likely_cause))
    strips = [blank(density.gap * 0.6), heading(_("Why this bow is here"), width, density)]
    for need, why in rows:
        strips.append(_why_row(need, why, width, density))
    return strips


def _why_row(need: str, why: str, width: float, density: Density) -> Strip:
    column = 120.0
    named = wrap(need, BOLD, density.text, column - 8)
    told = wrap(why, REGULAR, density.text, width - column)
    height = max(height_of(named, density.text), height_of(told, density.text)) + 3

    def draw(canvas: Canvas, top: float) -> None:
        write_lines(canvas, LEFT, top - 2, named, font=BOLD, size=density.text)
        write_lines(canvas, LEFT + column, top - 2, told, size=density.text)

    return Strip(height, draw)
