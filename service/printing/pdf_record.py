"""A bow's whole record on paper: its sections as tables, one below the other, over as many pages as they take."""

from collections.abc import Iterator
from io import BytesIO
from itertools import accumulate

from django.utils.translation import gettext as _
from reportlab.pdfgen.canvas import Canvas

from service.bow_record.contents import BowRecord, Row, Section
from service.printing.pdf_flow import Strip, blank, draw_down, paginate
from service.printing.pdf_page import (
    HAIR,
    LEFT,
    ROOMY,
    RUNNING_HEAD,
    caution_box,
    foot,
    frame_for,
    heading,
    line_across,
    running_head,
)
from service.printing.pdf_text import BOLD, REGULAR, height_of, wrap, write, write_lines, write_right
from service.wording import short_moment

_SIZE = ROOMY.small + 0.6
_GAP = 6.0


def render_record(record: BowRecord, paper: str = "letter") -> bytes:
    """The record on "letter" or "a4"."""
    frame, pdf = frame_for(paper), BytesIO()
    canvas = Canvas(pdf, pagesize=frame.paper, invariant=1, pageCompression=1)
    name = _("Bow %(tag)s: whole record") % {"tag": record.tag}
    canvas.setTitle(name)
    canvas.setAuthor(record.shop)
    head = _masthead(record, frame.width)
    pages = paginate(list(_strips(record, frame.width)), frame.height - head.height, frame.height - RUNNING_HEAD)
    printed = _("%(shop)s · as of %(when)s") % {"shop": record.shop, "when": short_moment(record.made_at)}
    for number, strips in enumerate(pages, start=1):
        if number == 1:
            draw_down(canvas, (head, *strips), frame.top)
        else:
            running_head(canvas, frame, _("%(name)s, continued") % {"name": name}, record.shop)
            draw_down(canvas, strips, frame.top - RUNNING_HEAD)
        numbered = _("%(name)s · page %(number)d of %(count)d") % {"name": name, "number": number, "count": len(pages)}
        foot(canvas, frame, printed, numbered)
        canvas.showPage()
    canvas.save()
    return pdf.getvalue()


def _masthead(record: BowRecord, width: float) -> Strip:
    about = wrap(record.about, REGULAR, 10, width)
    stands = wrap(record.stands, BOLD, 10, width)
    height = 30 + height_of(about, 10) + height_of(stands, 10) + 6

    def draw(canvas: Canvas, top: float) -> None:
        write(canvas, LEFT, top - 19, record.tag, font=BOLD, size=20)
        write_right(canvas, LEFT + width, top - 19, _("Whole record"), font=BOLD, size=14)
        y = write_lines(canvas, LEFT, top - 28, about, size=10)
        write_lines(canvas, LEFT, y, stands, font=BOLD, size=10)
        line_across(canvas, top - height, width, HAIR)

    return Strip(height, draw)


def _strips(record: BowRecord, width: float) -> Iterator[Strip]:
    for section in record.sections:
        yield blank(ROOMY.gap)
        yield heading(section.title, width, ROOMY)
        if not section.rows:
            yield _line(section.empty, width)
            continue
        head = _row(section.head, section, width, None, BOLD)
        yield head
        for row in section.rows:
            yield _row(row, section, width, head, REGULAR)
    yield blank(ROOMY.gap)
    yield caution_box(width, ROOMY)


def _line(text: str, width: float) -> Strip:
    lines = wrap(text, REGULAR, _SIZE, width)
    height = height_of(lines, _SIZE) + _GAP
    return Strip(height, lambda canvas, top: _write_at(canvas, top, lines))


def _write_at(canvas: Canvas, top: float, lines: tuple[str, ...]) -> None:
    write_lines(canvas, LEFT, top - 2, lines, size=_SIZE)


def _row(row: Row, section: Section, width: float, head: Strip | None, font: str) -> Strip:
    unit = width / sum(section.shares)
    widths = [share * unit for share in section.shares]
    edges = list(accumulate(widths[:-1], initial=LEFT))
    cells = [wrap(text, font, _SIZE, room - _GAP) for text, room in zip(row, widths, strict=True)]
    height = max(height_of(lines, _SIZE) for lines in cells) + 4

    def draw(canvas: Canvas, top: float) -> None:
        for x, lines in zip(edges, cells, strict=True):
            write_lines(canvas, x, top - 1, lines, font=font, size=_SIZE)
        line_across(canvas, top - height, width, HAIR)

    return Strip(height, draw, with_next=head is None, repeat=head)
