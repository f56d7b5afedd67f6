"""The printed queue, read back by libraries that did not write it."""

from dataclasses import replace
from io import BytesIO
from itertools import combinations

import numpy as np
import pytest
from django.utils import translation
from pypdf import PdfReader
from pypdf.generic import ContentStream

from service.printing.cautions import cautions, cautions_in_short, planning_aid
from service.printing.pdf import render_order, render_queue
from service.printing.pdf_page import FOOT, LEFT, PAPERS, RIGHT, TOP
from service.printing.pdf_text import printable
from service.printing.sheets import LifeUsed
from tests.printing.paper_shop import (
    CORDS,
    LONG,
    MEASUREMENTS,
    PRINTED_AT,
    RECURVE,
    USUAL,
    a_day,
    metric,
    queue,
)
from tests.printing.reading import codes, drawn, glyphs, pages, picture, texts, without_spaces

SHEETS = (USUAL, RECURVE, LONG)
SHORT = replace(
    USUAL,
    reasons=USUAL.reasons[1:],
    measurements=MEASUREMENTS[:3] + MEASUREMENTS[5:],
    cords=CORDS[:2],
    parts=(),
    steps=USUAL.steps[:2] + USUAL.steps[3:5] + USUAL.steps[6:],
)


@pytest.fixture(scope="module", params=sorted(PAPERS))
def printed(request):
    return request.param, render_queue(queue(SHEETS), SHEETS, request.param)


class TestContents:
    def test_the_numbers_of_the_usual_sheet(self):
        text = " ".join(texts(render_order(USUAL, PRINTED_AT)))
        for told in (
            *("Order 2025-0412", "FH-017", "K7-20931", "Kestrelwood Tarn 33", "compound, hybrid cam"),
            *("26 1/4 in", "28 in", "50.0 lb", "set 3, draw board, Maren Ostby, 2024-08-02"),
            *("33 1/4 in ±1/8 in ±1/16 in", "1 5/32 in ±1/16 in ±1/32 in", "50.0 lb ±2 lb ±1 lb"),
            *(
                "0.86",
                "shots 0.58 + time 0.17 + heat 0.11",
                "0.73",
                "- 0.02 kept colder than the reference",
                "rated life assumed",
            ),
            *("24 1/2 turns", "add 1 1/2", "string: replace", "printed 2025-07-14 06:45 UTC", "page 1 of 2"),
        ):
            assert told in text, told

    def test_a_metric_site_reads_millimetres_and_newtons(self):
        text = " ".join(texts(render_order(metric(USUAL), PRINTED_AT)))
        for told in ("844.5 mm ±3.1 mm ±1.5 mm", "222.5 N ±8.5 N ±4 N", "667 mm", "711 mm"):
            assert told in text, told

    def test_every_word_given_is_on_paper(self, printed):
        _paper, pdf = printed
        # Compared without spaces: a line break may fall anywhere in a long word.
        text = without_spaces("".join(texts(pdf)))
        for sheet in SHEETS:
            bow = sheet.bow
            given = [sheet.number, sheet.shop, sheet.site, sheet.technician, sheet.url, sheet.likely_cause]
            given += [bow.tag, bow.serial, bow.model, bow.hand, bow.kind, bow.cam_system, *sheet.warnings]
            given += [words for reason in sheet.reasons for words in (reason.need, reason.why)]
            given += [words for row in sheet.measurements for words in (row.name, row.where, row.tool)]
            given += [words for cord in sheet.cords for words in (cord.position, cord.spec, cord.lot, cord.start_from)]
            given += [*sheet.steps, *sheet.assumed, sheet.second_person]
            given += [words for part in sheet.parts for words in (part.name, part.where)]
            for words in given:
                assert without_spaces(printable(words)) in text, words

    def test_the_cautions_stand_on_every_sheet_and_the_short_ones_on_each_further_page(self, printed):
        _paper, pdf = printed
        for text in texts(pdf):
            closed = without_spaces(text)
            assert without_spaces(planning_aid()) in closed
            standing = [without_spaces(caution) in closed for caution in cautions()]
            assert all(standing) if "page 1 of" in text else without_spaces(cautions_in_short()) in closed

    def test_what_is_not_known_says_so(self):
        bare = replace(
            USUAL,
            reference=None,
            bow=replace(USUAL.bow, serial="", draw_length_m=None),
            measurements=(replace(MEASUREMENTS[0], reference=None, tolerance=None, bench_tolerance=None),),
            cords=(CORDS[2],),
        )
        text = " ".join(texts(render_order(bare, PRINTED_AT)))
        for told in ("no reference set yet", "not recorded", "none yet", "inspect before hire"):
            assert told in text, told

    def test_an_overdue_tool_says_so(self):
        warned = replace(MEASUREMENTS[6], tool_warning="scale S-2: calibration was due 2025-06-30")
        text = " ".join(texts(render_order(replace(USUAL, measurements=(warned,)), PRINTED_AT)))
        assert "calibration was due 2025-06-30" in text

    def test_the_second_person_signs_only_where_asked_for(self):
        assert "Second person" not in " ".join(texts(render_order(USUAL, PRINTED_AT)))
        assert "a different person checks" in " ".join(texts(render_order(LONG, PRINTED_AT)))

    def test_another_language_sets_its_dates_and_decimals(self):
        with translation.override("fr"):
            text = " ".join(texts(render_order(metric(USUAL), PRINTED_AT)))
        assert "lundi 14/07/2025" in text and "844,5 mm" in text and "0,86" in text


class TestCover:
    def test_the_orders_and_totals(self, printed):
        text = texts(printed[1])[0]
        assert "3 orders · 165 min of work · 480 min at the bench · 315 min to spare" in text
        assert text.index("2025-0412") < text.index("2025-0413") < text.index("2025-0414")
        for told in ("Monday 2025-07-14", "rack 2", "booked from 2025-07-15", "drawer B3", "Timing check"):
            assert told in text, told

    def test_too_much_work_says_by_how_much(self):
        cover = replace(queue(SHEETS), minutes_available=100)
        assert "65 min more than there is" in texts(render_queue(cover, SHEETS))[0]

    def test_a_day_without_orders(self):
        assert "No orders are planned for this day." in texts(render_queue(queue(()), ()))[0]

    def test_sixty_orders_run_on_with_their_head(self):
        day = a_day(60)
        text = [page for page in texts(render_queue(queue(day), day)) if "Bench queue · page" in page]
        listing = [page for page in text if "rack 2" in page]
        assert len(listing) > 1 and all("Where it is" in page for page in listing)
        listed = " ".join(listing)
        assert [sheet.number for sheet in day if sheet.number not in listed] == []

    def test_sheets_that_are_not_the_covers_are_refused(self):
        with pytest.raises(ValueError, match=r"cover lists the orders 2025-0412, 2025-0413, the sheets are 2025-0413"):
            render_queue(queue((USUAL, RECURVE)), (RECURVE,))

    def test_another_paper_is_refused(self):
        with pytest.raises(ValueError, match=r"'legal' is not.*letter or a4"):
            render_queue(queue(()), (), "legal")


class TestPages:
    def test_the_papers_size(self, printed):
        paper, pdf = printed
        for page in PdfReader(BytesIO(pdf)).pages:
            assert (page.mediabox.width, page.mediabox.height) == pytest.approx(PAPERS[paper], abs=0.01)

    @pytest.mark.parametrize("paper", sorted(PAPERS))
    def test_a_usual_check_is_one_page(self, paper):
        assert len(texts(render_order(SHORT, PRINTED_AT, paper))) == 1
        assert len(texts(render_order(RECURVE, PRINTED_AT, paper))) == 1

    def test_each_order_counts_its_own_pages(self, printed):
        counts = {sheet.number: [] for sheet in SHEETS}
        for text in texts(printed[1])[1:]:
            number = next(number for number in counts if f"Order {number} · page" in text)
            counts[number].append(text)
        for number, found in counts.items():
            for index, text in enumerate(found, start=1):
                assert f"Order {number} · page {index} of {len(found)}" in text

    def test_the_same_input_gives_the_same_bytes(self, printed):
        paper, pdf = printed
        assert render_queue(queue(SHEETS), SHEETS, paper) == pdf

    def test_a_text_longer_than_a_page_is_refused_rather_than_cut_off(self):
        with pytest.raises(ValueError, match="Order 2025-0412: one of its texts is longer than a page"):
            render_order(replace(USUAL, steps=("twist " * 3000,)), PRINTED_AT)
        assert "twist" in texts(render_order(replace(USUAL, steps=("twist " * 800,)), PRINTED_AT))[1]

    def test_the_outline_leads_to_each_order(self, printed):
        titles = [entry.title for entry in PdfReader(BytesIO(printed[1])).outline]
        assert [title.split(", ")[0] for title in titles[1:]] == [f"Order {sheet.number}" for sheet in SHEETS]


class TestOnPaper:
    def test_every_glyph_is_inside_the_margins(self, printed):
        paper, pdf = printed
        width, height = PAPERS[paper]
        for page in pages(pdf):
            for glyph in glyphs(page):
                assert glyph.left >= LEFT - 1 and glyph.right <= width - RIGHT + 1, glyph
                assert glyph.top <= height - TOP + 1 and glyph.bottom >= FOOT / 3, glyph

    def test_no_text_lies_over_other_text(self, printed):
        for page in pages(printed[1]):
            text = page.get_textpage()
            lines = [text.get_rect(index) for index in range(text.count_rects())]
            for one, other in combinations(lines, 2):
                across = min(one[2], other[2]) - max(one[0], other[0])
                down = min(one[3], other[3]) - max(one[1], other[1])
                assert across <= 0.5 or down <= 0.5, (
                    text.get_text_bounded(*one),
                    text.get_text_bounded(*other),
                )

    def test_no_text_crosses_a_line_or_the_edge_of_a_box(self, printed):
        for page, (boxes, lines) in zip(pages(printed[1]), drawn(printed[1]), strict=True):
            for glyph in glyphs(page):
                for box in boxes:
                    apart = 0 in self.overlap(glyph, box)
                    inside = (
                        box.left <= glyph.left
                        and glyph.right <= box.right
                        and box.bottom <= glyph.bottom
                        and glyph.top <= box.top
                    )
                    assert apart or inside, (glyph, box)
                for line in lines:
                    beside = glyph.right <= line.left or glyph.left >= line.right
                    assert beside or not glyph.bottom + 0.2 < line.bottom < glyph.top - 0.2, (glyph, line)

    @staticmethod
    def overlap(one, other):
        """Width and height of what two boxes share, 0 where they do not."""
        across = min(one.right, other.right) - max(one.left, other.left)
        down = min(one.top, other.top) - max(one.bottom, other.bottom)
        return max(across, 0), max(down, 0)

    def test_boxes_to_write_in_hold_nothing_but_their_unit(self, printed):
        for page, (boxes, _lines) in zip(pages(printed[1]), drawn(printed[1]), strict=True):
            for box in boxes:
                inside = "".join(glyph.character for glyph in glyphs(page) if 0 not in self.overlap(glyph, box))
                if box.right - box.left < 85:
                    assert inside in ("", "in", "lb"), (inside, box)

    def test_every_glyph_leaves_ink(self, printed):
        """A character that the font lacks is drawn as nothing or as one same box."""
        dpi = 150
        for page in pages(printed[1]):
            image = picture(page, dpi)
            scale, height = dpi / 72, image.shape[0]
            for glyph in glyphs(page):
                rows = slice(int(height - glyph.top * scale) - 1, int(height - glyph.bottom * scale) + 2)
                columns = slice(int(glyph.left * scale) - 1, int(glyph.right * scale) + 2)
                assert image[rows, columns].min() < 160, glyph

    def test_fractions_signs_and_accents_look_different_from_one_another(self):
        """Each of these is drawn with its own shape, so none is the font's box for a missing glyph."""
        characters = "¼½¾±°–×·éèàçôŒ"
        shapes = set()
        for character in characters:
            page = pages(render_order(replace(USUAL, bow=replace(USUAL.bow, tag=character)), PRINTED_AT))[0]
            glyph = next(each for each in glyphs(page) if each.character == character)
            image = picture(page, 200)
            scale = 200 / 72
            rows = slice(int(image.shape[0] - glyph.top * scale), int(image.shape[0] - glyph.bottom * scale) + 1)
            crop = image[rows, int(glyph.left * scale) : int(glyph.right * scale) + 1]
            shapes.add((crop.shape, crop.tobytes()))
        assert len(shapes) == len(characters)

    def test_nothing_is_in_colour(self, printed):
        for page in pages(printed[1]):
            red, green, blue = np.moveaxis(np.asarray(page.render(scale=1).to_pil().convert("RGB")), 2, 0)
            assert (red == green).all() and (green == blue).all()

    @pytest.mark.parametrize("one_bit", [False, True])
    def test_each_code_reads_at_100_dpi_and_opens_its_order(self, printed, one_bit):
        read = []
        for page in pages(printed[1]):
            image = picture(page, 100)
            read += codes(np.where(image < 128, 0, 255).astype(np.uint8) if one_bit else image)
        assert read == [sheet.url for sheet in SHEETS]

    def test_a_long_address_reads_at_100_dpi(self):
        url = f"https://bench.wildwater-camp.example:8443/{'orders-of-the-camp-' * 3}2025-0412/"
        (image,) = (picture(page, 100) for page in pages(render_order(replace(SHORT, url=url), PRINTED_AT)))
        assert codes(image) == [url]


class TestLifeBar:
    def rectangles(self, life: LifeUsed) -> list[tuple[float, float]]:
        """Left edge and width of each rectangle as high as the bar."""
        order = replace(SHORT, cords=(replace(CORDS[0], life=life),))
        reader = PdfReader(BytesIO(render_order(order, PRINTED_AT)))
        stream = ContentStream(reader.pages[0].get_contents(), reader)
        sides = [[float(side) for side in operands] for operands, operator in stream.operations if operator == b"re"]
        return [(x, width) for x, _y, width, height in sides if height == 8.0]

    def test_the_shares_stand_end_to_end_in_proportion(self):
        (shots, time, heat) = self.rectangles(LifeUsed(0.58, 0.17, 0.11))
        assert time[1] / shots[1] == pytest.approx(0.17 / 0.58, rel=1e-3)
        assert heat[1] / shots[1] == pytest.approx(0.11 / 0.58, rel=1e-3)
        assert time[0] == pytest.approx(shots[0] + shots[1], abs=1e-2)
        assert heat[0] == pytest.approx(time[0] + time[1], abs=1e-2)

    def test_a_cord_far_beyond_its_life_stays_inside_its_column(self):
        bar = self.rectangles(LifeUsed(4.0, 2.0, 1.0))
        usual = self.rectangles(LifeUsed(0.0, 0.0, 1.25))
        assert sum(width for _x, width in bar) == pytest.approx(sum(width for _x, width in usual), rel=1e-3)

    def test_a_cold_store_takes_no_length(self):
        assert self.rectangles(LifeUsed(0.5, 0.1, -0.2))[2][1] == 0
