"""The reorder list on paper: one block per cord spec, with length and strands, and a line per day of ordering."""

from datetime import datetime
from io import BytesIO
from itertools import accumulate

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from reportlab.pdfgen.canvas import Canvas

from service.printing.pdf_flow import Strip, blank, draw_down, paginate
from service.printing.pdf_page import (
    HAIR,
    LEFT,
    ROOMY,
    RUNNING_HEAD,
    THIN,
    Frame,
    box,
    foot,
    frame_for,
    line_across,
    running_head,
)
from service.printing.pdf_text import BOLD, REGULAR, height_of, wrap, write, write_lines, write_right
from service.stock.reorder import ReorderGroup, grouped, wanted_for
from service.stock.shelf import ReorderLine, Shelf
from service.units import Units, format_length
from service.wording import short_day, short_moment

_SIZE, _SMALL = ROOMY.text, ROOMY.small
_COLUMNS = (26.0, 52.0, 92.0, 92.0)  # points: box to tick, cords, order by, needed by; the reason has the rest
_COST_WIDTH = 90.0


def render_reorder(shelf: Shelf, printed_at: datetime, paper: str = "letter") -> bytes:
    """The list of a site on "letter" or "a4". ValueError for another paper."""
    frame, pdf = frame_for(paper), BytesIO()
    canvas = Canvas(pdf, pagesize=frame.paper, invariant=1, pageCompression=1)
    canvas.setTitle(_("Cords to order %(site)s %(date)s") % {"site": shelf.site, "date": short_day(shelf.today)})
    head, strips = _masthead(shelf, frame.width), _strips(shelf, frame.width)
    pages = paginate(strips, frame.height - head.height, frame.height - RUNNING_HEAD)
    for number, page in enumerate(pages, start=1):
        _draw_page(canvas, frame, shelf, head if number == 1 else None, page)
        told = _("%(site)s · printed %(when)s") % {
            "site": shelf.site, "when": short_moment(printed_at),
        }  # fmt: skip
        counted = _("Cords to order · page %(number)d of %(count)d") % {"number": number, "count": len(pages)}
        foot(canvas, frame, told, counted)
        canvas.showPage()
    canvas.save()
    return pdf.getvalue()


def _draw_page(canvas: Canvas, frame: Frame, shelf: Shelf, head: Strip | None, strips: list[Strip]) -> None:
    if head is not None:
        draw_down(canvas, (head, *strips), frame.top)
        return
    running_head(canvas, frame, _("Cords to order, continued"), str(shelf.site))
    draw_down(canvas, strips, frame.top - RUNNING_HEAD)


def _masthead(shelf: Shelf, width: float) -> Strip:
    count = sum(line.order.count for line in shelf.to_order)
    total = ngettext("%(count)d cord", "%(count)d cords", count) % {"count": count}
    basis = wrap(_basis(shelf), REGULAR, _SIZE, width)
    height = 34 + height_of(basis, _SIZE) + 8

    def draw(canvas: Canvas, top: float) -> None:
        write(canvas, LEFT, top - 19, _("Cords to order"), font=BOLD, size=20)
        told = f"{total} · {_money(shelf.cost, shelf.site.currency)}"
        write_right(canvas, LEFT + width, top - 19, told, font=BOLD, size=12)
        write_lines(canvas, LEFT, top - 30, basis, size=_SIZE)
        line_across(canvas, top - height, width, THIN)

    return Strip(height, draw)


def _basis(shelf: Shelf) -> str:
    if shelf.plan is None:
        return _("%(site)s. No plan was made yet: each replacement wants its cords on its due day.") % {
            "site": shelf.site
        }
    return _("%(site)s. By the plan of %(made)s, up to %(last)s.") % {
        "site": shelf.site,
        "made": short_moment(shelf.plan.made_at),
        "last": date_format(shelf.last_day, "DATE_FORMAT"),
    }


def _strips(shelf: Shelf, width: float) -> list[Strip]:
    groups = grouped(shelf.to_order)
    if not groups:
        words = wrap(_("Nothing is to be ordered."), REGULAR, _SIZE, width)
        return [Strip(24.0, lambda canvas, top: _write_at(canvas, top - 6, words))]
    strips = []
    for group in groups:
        strips.append(blank(ROOMY.gap))
        strips.append(_group_head(group, shelf, width))
        strips += [_line(line, shelf, width) for line in group.lines]
    return strips


def _write_at(canvas: Canvas, top: float, words: tuple[str, ...]) -> None:
    write_lines(canvas, LEFT, top, words, size=_SIZE)


def _group_head(group: ReorderGroup, shelf: Shelf, width: float) -> Strip:
    spec = group.spec
    about = ", ".join((
        str(spec.get_position_display()),
        format_length(spec.length_m, Units(shelf.site.units)),
        ngettext("%(count)d strand", "%(count)d strands", spec.strands) % {"count": spec.strands},
        str(spec.get_fibre_display()),
        *([spec.maker] if spec.maker else []),
    ))  # fmt: skip
    named = wrap(f"{group.count} × {spec.code}", BOLD, 12, width - _COST_WIDTH)
    lines = wrap(about, REGULAR, _SIZE, width - _COST_WIDTH)
    height = height_of(named, 12) + height_of(lines, _SIZE) + 6

    def draw(canvas: Canvas, top: float) -> None:
        y = write_lines(canvas, LEFT, top - 2, named, font=BOLD, size=12)
        write_lines(canvas, LEFT, y, lines, size=_SIZE)
        write_right(canvas, LEFT + width, top - 13, _money(group.cost, shelf.site.currency), font=BOLD, size=_SIZE)
        line_across(canvas, top - height, width, THIN)

    return Strip(height, draw, with_next=True)


def _line(line: ReorderLine, shelf: Shelf, width: float) -> Strip:
    edges = tuple(accumulate(_COLUMNS, initial=LEFT))
    order = line.order
    by = _("today, late") if order.late else short_day(order.order_by)
    why = wrap(wanted_for(line), REGULAR, _SIZE, width - sum(_COLUMNS) - _COST_WIDTH)
    height = max(20.0, height_of(why, _SIZE) + 8)

    def draw(canvas: Canvas, top: float) -> None:
        box(canvas, LEFT, top - 15, 11, 11)
        baseline = top - 4 - _SIZE
        write(canvas, edges[1], baseline, str(order.count), font=BOLD, size=_SIZE)
        write(
            canvas, edges[2], baseline, _("by %(day)s") % {"day": by}, font=BOLD if order.late else REGULAR, size=_SIZE
        )
        write(canvas, edges[3], baseline, _("here %(day)s") % {"day": short_day(order.needed_by)}, size=_SIZE)
        write_lines(canvas, edges[4], top - 4, why, size=_SIZE)
        write_right(canvas, LEFT + width, baseline, _money(order.cost, shelf.site.currency), size=_SIZE)
        line_across(canvas, top - height, width, HAIR)

    return Strip(height, draw)


def _money(amount: float, currency: str) -> str:
    return f"{number_format(amount, 2, use_l10n=True, force_grouping=True)} {currency}"
