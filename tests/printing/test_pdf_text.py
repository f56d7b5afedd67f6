"""Words on paper: characters that the fonts have, and lines that fit."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.printing.pdf_text import BOLD, REGULAR, printable, width_of, wrap


def without_marks(text: str) -> str:
    """What is left of a text without spaces and the marks that only change the letter before them."""
    return "".join(each for each in text if not each.isspace() and not unicodedata.combining(each))


class TestPrintable:
    @pytest.mark.parametrize("text", ["33 ¼ ½ ¾ in", "±1/16", "72 °F", "1–2", "Zoë", "à é è ç œ Œ ÿ €"])
    def test_what_the_fonts_have_stays(self, text):
        assert printable(text) == text

    @pytest.mark.parametrize(
        ("text", "expected"),
        [
            ("Łukasz Őry", "Lukasz Ory"),
            ("33⅛ in", "33 1/8 in"),
            ("⅛ in", "1/8 in"),
            ("33 1⁄4", "33 1/4"),
            ("−2 lb", "-2 lb"),
            ("e\N{COMBINING ACUTE ACCENT}t", "ét"),
            ("弓 7", "? 7"),
            ("a\tb\r\nc\N{NO-BREAK SPACE}d", "a b c\N{NO-BREAK SPACE}d"),
            ("bell\x07", "bell?"),
        ],
    )
    def test_what_they_lack_is_spelled(self, text, expected):
        assert printable(text) == expected

    def test_a_fraction_never_runs_into_its_whole_number(self):
        """33⅛ printed as "331/8" would be ten times the length."""
        assert "331/8" not in printable("33⅛")

    @given(st.text(max_size=40))
    def test_everything_can_be_printed(self, text):
        shown = printable(text)
        assert shown.encode("cp1252").decode("cp1252") == shown
        assert bool(shown) or not without_marks(text)


class TestWrap:
    @given(st.text(max_size=200), st.floats(20, 300), st.sampled_from([REGULAR, BOLD]))
    def test_nothing_is_lost_and_nothing_too_wide(self, text, width, font):
        lines = wrap(text, font, 9.0, width)
        assert "".join("".join(lines).split()) == "".join(printable(text).split())
        for line in lines:
            assert width_of(line, font, 9.0) <= width or len(line) == 1

    def test_no_text_has_no_line(self):
        assert wrap("", REGULAR, 9.0, 100.0) == ()

    @pytest.mark.parametrize("quantity", ["58 1/4 in", "60.0 lb", "844.5 mm", "72.4 °C", "24 1/2 turns", "0.86 %"])
    def test_a_quantity_is_not_parted(self, quantity):
        lines = wrap(f"a cord of a length of {quantity}", REGULAR, 9.0, width_of("of a length of 58 1", REGULAR, 9.0))
        assert any(quantity in line for line in lines)

    def test_a_long_word_parts_after_a_hyphen(self):
        width = width_of("WILDWATER-CAM", BOLD, 9.0)
        assert wrap("WILDWATER-CAMP-00117", BOLD, 9.0, width) == ("WILDWATER-", "CAMP-00117")
