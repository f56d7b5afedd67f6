"""The cover: the day's orders in the order of work, what to fetch, and the cautions."""

from itertools import accumulate, pairwise

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from reportlab.pdfgen.canvas import Canvas

from service.printing.pdf_flow import Strip, blank
from service.printing.pdf_page import HAIR, LEFT, ROOMY, box, caution_box, heading, line_across
from service.printing.pdf_steps import TICK, part_strips
from service.printing.pdf_text import BOLD, REGULAR, height_of, wrap, write, write_lines, write_right
from service.printing.sheets import QueueCover, QueueLine
from service.wording import short_day

# Widths in points of: position in the day, order, bow, where it is, technician, minutes. Jobs have the rest.
_COLUMNS = (44.0, 74.0, 110.0, 84.0, 72.0, 32.0)
_SIZE, _SMALL = ROOMY.text, ROOMY.small


def cover_strips(cover: QueueCover, width: float) -> list[Strip]:
    """Everything under the cover's masthead."""
    head = _head(width)
    rows = [_row(place, line, width, head) for place, line in enumerate(cover.lines, start=1)]
    empty = [] if rows else [_empty()]
    return [
        blank(ROOMY.gap),
        heading(_("Orders, in the order of work"), width, ROOMY),
        head,
        *rows,
        *empty,
        *part_strips(cover.parts, _("Parts to fetch first"), width, ROOMY),
        blank(ROOMY.gap),
        caution_box(width, ROOMY),
    ]


def cover_masthead(cover: QueueCover, width: float) -> Strip:
    """Whose bench, which day, and how much work it is."""
    title = f"{date_format(cover.on, 'l')} {short_day(cover.on)}"
    place = wrap(" · ".join(part for part in (cover.shop, cover.site) if part), REGULAR, 10, width)
    people = wrap(", ".join(cover.technicians), BOLD, 10, width)
    totals = wrap(_totals(cover), REGULAR, 10, width)
    height = 30 + sum(height_of(lines, 10) for lines in (place, people, totals)) + 6

    def draw(canvas: Canvas, top: float) -> None:
        write(canvas, LEFT, top - 19, _("Bench queue"), font=BOLD, size=20)
        write_right(canvas, LEFT + width, top - 19, title, font=BOLD, size=14)
        y = write_lines(canvas, LEFT, top - 28, place, size=10)
        y = write_lines(canvas, LEFT, y, people, font=BOLD, size=10)
        write_lines(canvas, LEFT, y, totals, size=10)
        line_across(canvas, top - height, width, HAIR)

    return Strip(height, draw)


def _totals(cover: QueueCover) -> str:
    count = len(cover.lines)
    told = ngettext("%(count)d order", "%(count)d orders", count) % {"count": count}
    work = _("%(minutes)d min of work") % {"minutes": cover.minutes}
    if cover.minutes_available is None:
        return f"{told} · {work}"
    spare = cover.minutes_available - cover.minutes
    room = _("%(minutes)d min to spare") if spare >= 0 else _("%(minutes)d min more than there is")
    available = _("%(minutes)d min at the bench") % {"minutes": cover.minutes_available}
    return f"{told} · {work} · {available} · {room % {'minutes': abs(spare)}}"


def _edges(width: float) -> tuple[float, ...]:
    """Left edges: position, order, bow, where, jobs, technician, minutes; and the right edge."""
    jobs = width - sum(_COLUMNS)
    return tuple(accumulate((*_COLUMNS[:4], jobs, *_COLUMNS[4:]), initial=LEFT))


def _head(width: float) -> Strip:
    edges = _edges(width)
    titles = (_("Done"), _("Order"), _("Bow"), _("Where it is"), _("Work"), _("Technician"))
    height = _SMALL * 1.22 + 6

    def draw(canvas: Canvas, top: float) -> None:
        for x, title in zip(edges, titles, strict=False):
            write(canvas, x, top - 3 - _SMALL, title, font=BOLD, size=_SMALL)
        write_right(canvas, edges[-1], top - 3 - _SMALL, _("min"), font=BOLD, size=_SMALL)
        line_across(canvas, top - height, width, HAIR)

    return Strip(height, draw, with_next=True)


def _row(place: int, line: QueueLine, width: float, head: Strip) -> Strip:
    edges = _edges(width)
    room = [right - left - 6 for left, right in pairwise(edges)]
    columns = (
        ((wrap(line.order, BOLD, _SIZE, room[1]), BOLD, _SIZE),),
        (
            (wrap(line.tag, BOLD, _SIZE, room[2]), BOLD, _SIZE),
            (wrap(line.model, REGULAR, _SMALL, room[2]), REGULAR, _SMALL),
        ),
        ((wrap(line.place, REGULAR, _SMALL, room[3]), REGULAR, _SMALL),),
        (
            *((wrap(job, REGULAR, _SIZE - 0.5, room[4]), REGULAR, _SIZE - 0.5) for job in line.jobs),
            (wrap(line.note, REGULAR, _SMALL, room[4]), REGULAR, _SMALL),
        ),
        ((wrap(line.technician, REGULAR, _SMALL, room[5]), REGULAR, _SMALL),),
    )
    height = max(22.0, *(sum(height_of(lines, size) for lines, _font, size in column) + 7 for column in columns))

    def draw(canvas: Canvas, top: float) -> None:
        box(canvas, LEFT, top - 4 - TICK, TICK, TICK)
        write(canvas, LEFT + TICK + 6, top - 3 - _SIZE, f"{place}.", font=BOLD, size=_SIZE)
        for x, column in zip(edges[1:], columns, strict=False):
            y = top - 3
            for lines, font, size in column:
                y = write_lines(canvas, x, y, lines, font=font, size=size)
        write_right(canvas, edges[-1], top - 3 - _SIZE, str(line.minutes), size=_SIZE)
        line_across(canvas, top - height, width, HAIR)

    return Strip(height, draw, repeat=head)


def _empty() -> Strip:
    def draw(canvas: Canvas, top: float) -> None:
        write(canvas, LEFT, top - 14, _("No orders are planned for this day."), size=_SIZE)

    return Strip(24.0, draw)
