"""The printed queue: a cover, then one sheet per work order, as a PDF for a black and white shop printer.

The same input gives the same bytes: ReportLab's invariant mode leaves out the clock and random identifiers, and
the time of printing is part of the input. Words follow the active language.
"""

from collections.abc import Sequence
from datetime import datetime
from io import BytesIO

from django.utils.translation import gettext as _
from reportlab.pdfgen.canvas import Canvas

from service.printing.pdf_cover import cover_masthead, cover_strips
from service.printing.pdf_flow import Strip, draw_down, paginate
from service.printing.pdf_page import COMPACT, ROOMY, RUNNING_HEAD, Frame, foot, frame_for, running_head
from service.printing.pdf_sheet import masthead, sheet_strips
from service.printing.pdf_steps import notes
from service.printing.sheets import QueueCover, WorkOrderSheet
from service.wording import short_day, short_moment


def render_queue(cover: QueueCover, sheets: Sequence[WorkOrderSheet], paper: str = "letter") -> bytes:
    """The cover list and its sheets on "letter" or "a4".

    Raises ValueError where the sheets are not the cover's orders in the cover's order, or for another paper.
    """
    listed, given = [line.order for line in cover.lines], [sheet.number for sheet in sheets]
    if listed != given:
        raise ValueError(
            f"The cover lists the orders {', '.join(listed) or 'none'}, the sheets are "
            f"{', '.join(given) or 'none'}; give one sheet per line of the cover, in the same order."
        )
    frame, pdf = frame_for(paper), BytesIO()
    title = _("Bench queue %(site)s %(date)s") % {"site": cover.site, "date": short_day(cover.on)}
    canvas = _canvas(pdf, frame, title, cover.shop)
    _draw_cover(canvas, frame, cover)
    for sheet in sheets:
        _draw_sheet(canvas, frame, sheet, cover.printed_at)
    canvas.save()
    return pdf.getvalue()


def render_order(sheet: WorkOrderSheet, printed_at: datetime, paper: str = "letter") -> bytes:
    """One order's sheet alone, on "letter" or "a4"."""
    frame, pdf = frame_for(paper), BytesIO()
    canvas = _canvas(pdf, frame, _("Order %(number)s") % {"number": sheet.number}, sheet.shop)
    _draw_sheet(canvas, frame, sheet, printed_at)
    canvas.save()
    return pdf.getvalue()


def _canvas(pdf: BytesIO, frame: Frame, title: str, author: str) -> Canvas:
    canvas = Canvas(pdf, pagesize=frame.paper, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setAuthor(author)
    return canvas


def _draw_cover(canvas: Canvas, frame: Frame, cover: QueueCover) -> None:
    head = cover_masthead(cover, frame.width)
    room = frame.height - RUNNING_HEAD
    pages = paginate(cover_strips(cover, frame.width), frame.height - head.height, room)
    name = _("Bench queue")
    _bookmark(canvas, f"{name} {short_day(cover.on)}", "cover")
    _draw_pages(canvas, frame, head, pages, (name, f"{cover.site} · {short_day(cover.on)}"), cover.printed_at)


def _draw_sheet(canvas: Canvas, frame: Frame, sheet: WorkOrderSheet, printed_at: datetime) -> None:
    head = masthead(sheet, frame.width)
    pages = _sheet_pages(sheet, frame, head.height)
    name = _("Order %(number)s") % {"number": sheet.number}
    about = " · ".join((_("Bow %(tag)s") % {"tag": sheet.bow.tag}, sheet.site))
    _bookmark(canvas, f"{name}, {sheet.bow.tag}", f"order {sheet.number}")
    _draw_pages(canvas, frame, head, pages, (name, about), printed_at, sheet.bow_kind)


def _sheet_pages(sheet: WorkOrderSheet, frame: Frame, head: float) -> list[list[Strip]]:
    """Roomy on one page, else compact on one page, else roomy on as many as it takes; notes where room is left."""
    first, further = frame.height - head, frame.height - RUNNING_HEAD
    roomy = sheet_strips(sheet, frame.width, ROOMY)
    if max(strip.height for strip in roomy) > further:
        raise ValueError(
            f"Order {sheet.number}: one of its texts is longer than a page and would be cut off; shorten the "
            "longest reason, step or description to under 5,000 characters."
        )
    pages = paginate(roomy, first, further)
    if len(pages) > 1:
        compact = sheet_strips(sheet, frame.width, COMPACT)
        if sum(strip.height for strip in compact) <= first:
            pages = [compact]
    left = (first if len(pages) == 1 else further) - sum(strip.height for strip in pages[-1])
    blank_notes = notes(left, frame.width)
    if blank_notes:
        pages[-1].append(blank_notes)
    return pages


def _draw_pages(
    canvas: Canvas,
    frame: Frame,
    head: Strip,
    pages: Sequence[Sequence[Strip]],
    named: tuple[str, str],
    printed_at: datetime,
    bow_kind: str = "",
) -> None:
    name, about = named
    printed = _("%(about)s · printed %(when)s") % {
        "about": about,
        "when": short_moment(printed_at),
    }
    for number, strips in enumerate(pages, start=1):
        if number == 1:
            draw_down(canvas, (head, *strips), frame.top)
        else:
            running_head(canvas, frame, _("%(name)s, continued") % {"name": name}, about, bow_kind)
            draw_down(canvas, strips, frame.top - RUNNING_HEAD)
        page = _("%(name)s · page %(number)d of %(count)d") % {
            "name": name,
            "number": number,
            "count": len(pages),
        }
        foot(canvas, frame, printed, page)
        canvas.showPage()


def _bookmark(canvas: Canvas, title: str, key: str) -> None:
    """An entry in the document's outline, for a tablet at the bench."""
    canvas.bookmarkPage(key)
    canvas.addOutlineEntry(title, key, level=0)
