"""Labels on paper: the code that opens a bow's check, its tag in plain text, its site."""

from dataclasses import dataclass
from io import BytesIO

from django.utils.translation import gettext as _
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from service.printing.labels import LabelGrid
from service.printing.pdf_code import Code, modules_of
from service.printing.pdf_text import BOLD, LEADING, REGULAR, printable, wrap, write_fitting, write_lines

PAD_MM = 1.2
LARGEST_TAG, SITE_SIZE = 30.0, 7.5  # points
CODE_SHARE = 0.55
"""At most so much of a label's longer side is the code; the rest is the tag, which people read."""
LEAST_MODULE_MM = 0.45
"""Smaller modules are lost in a picture of 100 dots per inch (0.254 mm a dot)."""
LEVEL = "l"  # the smallest code; a higher level is taken where it costs no larger modules


@dataclass(frozen=True)
class Label:
    """One bow's label: the address that its code opens, its tag, its site."""

    url: str
    tag: str
    site: str


def render_labels(labels: list[Label], grid: LabelGrid, start: int = 1) -> bytes:
    """The labels as a PDF, the first at place `start` of the first sheet; the same labels give the same bytes.

    Raises ValueError where there is nothing to print, or where a label is too small for its code to be read.
    """
    if not labels:
        raise ValueError("No bow is chosen: tick at least one.")
    out = BytesIO()
    canvas = Canvas(out, pagesize=_points(grid.page_mm), invariant=1, pageCompression=1)
    canvas.setTitle(_("Bow labels"))
    sheet_now = 0
    for label, (sheet, left, top) in zip(labels, grid.places(len(labels), start), strict=True):
        while sheet_now < sheet:
            canvas.showPage()
            sheet_now += 1
        _draw(canvas, label, grid, left, top)
    canvas.save()
    return out.getvalue()


def code_side_mm(grid: LabelGrid, url: str) -> float:
    """Side of the code on a label of the grid; raises ValueError where its modules would be too small to read."""
    shorter, longer = sorted(grid.label_mm)
    side = min(shorter - 2 * PAD_MM, longer * CODE_SHARE)
    modules = modules_of(url, LEVEL)
    if side / modules < LEAST_MODULE_MM:
        raise ValueError(
            f"A label of {grid.label_mm[0]:g} x {grid.label_mm[1]:g} mm is too small for the code of {url}: it needs "
            f"{modules * LEAST_MODULE_MM + 2 * PAD_MM:.0f} mm at its shorter side. Take a larger label."
        )
    return side


def _points(size_mm: tuple[float, float]) -> tuple[float, float]:
    return size_mm[0] * mm, size_mm[1] * mm


def _draw(canvas: Canvas, label: Label, grid: LabelGrid, left_mm: float, top_mm: float) -> None:
    """One label: the code at the left (above, on an upright label), the tag as large as fits, the site under it."""
    side = code_side_mm(grid, label.url) * mm
    width, height = _points(grid.label_mm)
    left, top, pad = left_mm * mm, grid.page_mm[1] * mm - top_mm * mm, PAD_MM * mm
    if width >= height:
        Code(label.url, side, LEVEL).drawOn(canvas, left + pad, top - height / 2 - side / 2)
        _write(canvas, label, left + pad + side, top - pad, width - side - 2 * pad, height - 2 * pad)
    else:
        Code(label.url, side, LEVEL).drawOn(canvas, left + width / 2 - side / 2, top - pad - side)
        _write(canvas, label, left + pad, top - pad - side, width - 2 * pad, height - side - 2 * pad)


def _write(canvas: Canvas, label: Label, left: float, top: float, width: float, height: float) -> None:
    site = wrap(label.site, REGULAR, SITE_SIZE, width)
    tag_size = min(LARGEST_TAG, (height - len(site) * SITE_SIZE * LEADING) / LEADING)
    room = (height - tag_size * LEADING - len(site) * SITE_SIZE * LEADING) / 2
    baseline = top - room - tag_size
    write_fitting(canvas, left, baseline, printable(label.tag), width, font=BOLD, size=tag_size)
    write_lines(canvas, left, baseline - SITE_SIZE * 0.7, site, size=SITE_SIZE)
