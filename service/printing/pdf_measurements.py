"""The table of reference measurements, with boxes for as found and as left."""

from itertools import accumulate

from django.utils.translation import gettext as _
from reportlab.pdfgen.canvas import Canvas

from service.printing.pdf_flow import Strip, blank
from service.printing.pdf_page import HAIR, LEFT, Density, box, decimal_mark, heading, line_across
from service.printing.pdf_text import BOLD, REGULAR, height_of, wrap, write, write_lines, write_right
from service.printing.sheets import MeasurementRow, WorkOrderSheet
from service.units import KEPT_DENOMINATOR, Units, format_quantity, format_tolerance, symbol, unit_shown
from service.wording import short_day

# Widths in points of reference, tolerance in service, bench tolerance, as found, as left; the name has the rest.
_COLUMNS = (70.0, 52.0, 52.0, 80.0, 80.0)


def measurement_strips(sheet: WorkOrderSheet, width: float, density: Density) -> list[Strip]:
    """Heading, table head and one strip per measurement; nothing for an order that measures nothing."""
    if not sheet.measurements:
        return []
    edges = _edges(width)
    head = _head(edges, width, density)
    title = heading(_("Reference measurements"), width, density, _reference_note(sheet))
    rows = [_row(row, sheet.units, edges, width, density, head) for row in sheet.measurements]
    return [blank(density.gap), title, head, *rows]


def _edges(width: float) -> tuple[float, ...]:
    """The left edge of each column after the name's, and the right edge of the last."""
    return tuple(accumulate(_COLUMNS, initial=LEFT + width - sum(_COLUMNS)))


def _reference_note(sheet: WorkOrderSheet) -> str:
    if sheet.reference is None:
        return _("no reference set yet: measure, and make this one")
    return _("set %(version)d, %(origin)s, %(who)s, %(when)s") % {
        "version": sheet.reference.version,
        "origin": sheet.reference.origin,
        "who": sheet.reference.taken_by,
        "when": short_day(sheet.reference.taken_on),
    }


def _head(edges: tuple[float, ...], width: float, density: Density) -> Strip:
    size = density.small
    titles = (_("Reference"), _("Tolerance in service"), _("Tolerance on bench"), _("As found"), _("As left"))
    wrapped = [wrap(title, BOLD, size, column - 6) for title, column in zip(titles, _COLUMNS, strict=True)]
    first = wrap(_("Measure before anything is loosened"), BOLD, size, edges[0] - LEFT - 6)
    height = max(height_of(lines, size) for lines in (first, *wrapped)) + 4

    def draw(canvas: Canvas, top: float) -> None:
        write_lines(canvas, LEFT, top - 2, first, font=BOLD, size=size)
        for x, lines in zip(edges, wrapped, strict=False):
            write_lines(canvas, x + 4, top - 2, lines, font=BOLD, size=size)
        line_across(canvas, top - height, width, HAIR)

    return Strip(height, draw, with_next=True)


def _row(
    row: MeasurementRow, units: Units, edges: tuple[float, ...], width: float, density: Density, head: Strip
) -> Strip:
    room = edges[0] - LEFT - 6
    name = wrap(row.name, BOLD, density.text, room)
    where = wrap(_told(row), REGULAR, density.small, room)
    warning = wrap(row.tool_warning, BOLD, density.small, room)
    told = height_of(name, density.text) + height_of(where, density.small) + height_of(warning, density.small)
    height = max(density.row, told + density.pad)
    numbers = _numbers(row, units)
    unit = symbol(unit_shown(row.dimension, units))

    def draw(canvas: Canvas, top: float) -> None:
        y = write_lines(canvas, LEFT, top - 2, name, font=BOLD, size=density.text)
        y = write_lines(canvas, LEFT, y, where, size=density.small)
        write_lines(canvas, LEFT, y, warning, font=BOLD, size=density.small)
        baseline = top - 2 - density.text
        for index, (text, font, size) in enumerate(numbers):
            write(canvas, edges[index] + 4, baseline, text, font=font, size=size)
        for index, kept in ((3, row.as_found), (4, row.as_left)):
            left, right = edges[index] + 2, edges[index + 1]
            box(canvas, left, top - height + 2, right - left, height - 4)
            if kept is None:
                write_right(canvas, right - 3, top - height + 5, unit, size=6.5)
            else:
                write(canvas, left + 4, baseline, _read(kept, row, units), font=REGULAR, size=10.0)
        line_across(canvas, top - height, width, HAIR)

    return Strip(height, draw, repeat=head)


def _told(row: MeasurementRow) -> str:
    """Where to measure, and with what."""
    return f"{row.where} ({row.tool})" if row.where and row.tool else row.where or row.tool


def _read(value: float, row: MeasurementRow, units: Units) -> str:
    """A value as it was read, in the site's units."""
    return format_quantity(value, row.dimension, units, KEPT_DENOMINATOR, decimal_mark=decimal_mark())


def _numbers(row: MeasurementRow, units: Units) -> tuple[tuple[str, str, float], ...]:
    """Reference, tolerance in service and on the bench, each with its font and size."""
    mark = decimal_mark()
    reference = _("none yet") if row.reference is None else _read(row.reference, row, units)
    tolerances = (
        "–" if tolerance is None else format_tolerance(tolerance, row.dimension, units, decimal_mark=mark)
        for tolerance in (row.tolerance, row.bench_tolerance)
    )
    return ((reference, BOLD, 10.0), *((text, REGULAR, 8.6) for text in tolerances))
