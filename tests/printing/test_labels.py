"""Labels: the grid's own arithmetic, and every code read back from a picture of the page by an independent reader."""

from io import BytesIO
from typing import Any

import pypdf
import pypdfium2
import pytest
import zxingcpp

from service.printing.labels import INCH_MM, LABEL_GRIDS, PAPERS_MM, LabelGrid
from service.printing.pdf_labels import Label, render_labels

DPI, POINTS_PER_INCH = 100, 72
LONG = "https://books.hollow-well-range.example:8443/turnaround/"


def label(number: int, base: str = "https://127.0.0.1:8000/turnaround/") -> Label:
    return Label(f"{base}L-{number:03d}/", f"L-{number:03d}", "Hollow Well Range")


def read(pdf: bytes) -> list[list[Any]]:
    """What ZXing reads on each page, drawn at DPI dots per inch."""
    document = pypdfium2.PdfDocument(pdf)
    return [
        zxingcpp.read_barcodes(page.render(scale=DPI / POINTS_PER_INCH).to_pil(), formats=zxingcpp.BarcodeFormat.QRCode)
        for page in document
    ]


@pytest.mark.parametrize("name", LABEL_GRIDS)
def test_every_code_of_a_full_sheet_is_read_at_a_hundred_dots_per_inch(name: str) -> None:
    grid = LABEL_GRIDS[name]
    wanted = [label(number) for number in range(grid.per_sheet + 1)]
    pages = read(render_labels(wanted, grid))
    assert [len(found) for found in pages] == [grid.per_sheet, 1]
    assert sorted(code.text for found in pages for code in found) == sorted(one.url for one in wanted)


def test_a_long_address_is_read_too_or_the_label_is_refused() -> None:
    pages = read(render_labels([label(1, LONG)], LABEL_GRIDS["a4-3x7"]))
    assert [code.text for code in pages[0]] == [label(1, LONG).url]
    small = LabelGrid(PAPERS_MM["a4"], 10, 5, (38.0, 14.0))
    with pytest.raises(ValueError, match=r"38 x 14 mm is too small for the code of https.*Take a larger label"):
        render_labels([label(1, LONG)], small)


def test_a_used_sheet_is_begun_at_its_first_free_place() -> None:
    """ISO/IEC 18004 codes stand where the grid says: the third place of the second row, then the next sheet."""
    grid = LABEL_GRIDS["letter-3x10"]
    first, second = read(render_labels([label(1), label(2)], grid, start=30))
    assert [code.text for code in first] == [label(1).url]
    at = first[0].position.top_left
    left_mm = 3 / 16 * INCH_MM + 2 * (2.625 + 1 / 8) * INCH_MM
    assert at.x * INCH_MM / DPI == pytest.approx(left_mm, abs=6)
    assert at.y * INCH_MM / DPI == pytest.approx((0.5 + 9) * INCH_MM, abs=6)
    assert second[0].position.top_left.y * INCH_MM / DPI == pytest.approx(0.5 * INCH_MM, abs=6)


def test_tag_and_site_stand_in_plain_text() -> None:
    text = pypdf.PdfReader(BytesIO(render_labels([label(7)], LABEL_GRIDS["single-57x32"]))).pages[0].extract_text()
    assert "L-007" in text and "Hollow Well Range" in text


def test_the_longest_tag_stays_on_its_label() -> None:
    tag = "W" * 20  # as long as the register takes one
    grid = LABEL_GRIDS["single-2x1in"]
    picture = pypdfium2.PdfDocument(render_labels([Label("https://a.example/t/", tag, "Site")], grid))[0]
    drawn = picture.render(scale=4).to_pil().convert("L")
    edge = drawn.crop((drawn.width - 4, 0, drawn.width, drawn.height))
    assert edge.getextrema() == (255, 255)
    assert drawn.getextrema()[0] < 60


def test_the_same_labels_are_the_same_bytes() -> None:
    assert render_labels([label(1)], LABEL_GRIDS["a4-3x8"]) == render_labels([label(1)], LABEL_GRIDS["a4-3x8"])


@pytest.mark.parametrize("name", LABEL_GRIDS)
def test_every_grid_stands_inside_its_sheet(name: str) -> None:
    grid = LABEL_GRIDS[name]
    for _sheet, left, top in grid.places(grid.per_sheet):
        assert left >= 0 and left + grid.label_mm[0] <= grid.page_mm[0] + 0.3
        assert top >= 0 and top + grid.label_mm[1] <= grid.page_mm[1] + 0.3


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"rows": 0}, "0 rows of labels: 1 to 20"),
        ({"rows": 9}, "333.0 mm high and the sheet 297.0 mm"),
        ({"left_mm": 30.0}, "mm wide and the sheet 210.0 mm"),
        ({"label_mm": (5.0, 30.0)}, "Label width 5 mm: 12 to 297 mm"),
        ({"gap_x_mm": -1.0}, "margin or gap of -1 mm"),
        ({"top_mm": float("nan")}, "margin or gap of nan mm"),
        ({"label_mm": (float("nan"), 30.0)}, "Label width nan mm"),
    ],
)
def test_a_grid_that_cannot_be_is_refused_with_its_numbers(changes: dict[str, Any], why: str) -> None:
    given = {"page_mm": PAPERS_MM["a4"], "rows": 8, "columns": 3, "label_mm": (70.0, 37.0)}
    with pytest.raises(ValueError, match=why):
        LabelGrid(**{**given, **changes})


def test_a_place_that_the_sheet_lacks_is_refused() -> None:
    with pytest.raises(ValueError, match="Start at place 22: the sheet has places 1 to 21"):
        render_labels([label(1)], LABEL_GRIDS["a4-3x7"], start=22)
    with pytest.raises(ValueError, match="No bow is chosen"):
        render_labels([], LABEL_GRIDS["a4-3x7"])
