"""Words on paper: fonts, widths, line breaks and the characters that the printed fonts have.

The fonts are Helvetica and its bold, two of the fourteen that every PDF reader and printer has; their encoding
is Windows-1252 (Latin letters with accents, ¼ ½ ¾, ±, °, dashes). Nothing is ever cut off: text breaks into
lines, and a word too long for its line breaks inside.
"""

import re
import unicodedata
from functools import lru_cache

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from service.said import worded

REGULAR, BOLD = "Helvetica", "Helvetica-Bold"
LEADING = 1.22  # line distance over font size
_MISSING = "?"
# Every space at which a line may break.
_BREAKABLE = re.compile(r"[^\S\xa0]+")
# Trade and typing characters outside the encoding whose plain spelling Unicode does not give.
_SPELLED = {"\N{MINUS SIGN}": "-", "″": '"', "′": "'", "≤": "<=", "≥": ">=", "→": "->", "ł": "l", "Ł": "L"}


@lru_cache(maxsize=20_000)
def printable(text: str) -> str:
    """The text with each character that the fonts lack replaced by its base letter or spelling, else "?".

    Line breaks and runs of spaces become one space; a no-break space stays.
    """
    text = unicodedata.normalize("NFC", _BREAKABLE.sub(" ", text).strip())
    if _encodes(text):
        return text
    spelled: list[str] = []
    for character in text:
        spelled.append(character if _encodes(character) else _spelling(character, spelled))
    return "".join(spelled)


def _spelling(character: str, before: list[str]) -> str:
    if character in _SPELLED:
        return _SPELLED[character]
    if unicodedata.combining(character):
        return ""
    plain = unicodedata.normalize("NFKD", character).replace("\N{FRACTION SLASH}", "/")
    # "33⅛" is 33 1/8, never 331/8.
    fraction = unicodedata.decomposition(character).startswith("<fraction>")
    gap = " " if fraction and before and before[-1].isdigit() else ""
    kept = "".join(part for part in plain if _encodes(part))
    return gap + kept if kept else _MISSING


def _encodes(text: str) -> bool:
    try:
        encoded = text.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return all(byte >= ord(" ") and byte not in _UNDRAWN for byte in encoded)


_UNDRAWN = {0x7F}
_NO_BREAK = "\N{NO-BREAK SPACE}"
_GLUE = "\0"  # never printable, so never in the text
_QUANTITY_GAP = re.compile(r"(?<=\d) (?=\d+/\d|(?:in|mm|cm|lb|N|K|%|turns?|min|°C|°F)(?!\w))")


@lru_cache(maxsize=20_000)
def width_of(text: str, font: str, size: float) -> float:
    """Width in points of a line of printable text."""
    return float(stringWidth(text, font, size))


def wrap(text: str, font: str, size: float, width: float) -> tuple[str, ...]:
    """Lines no wider than `width` points, in the active language; no line at all for an empty text.

    A quantity ("58 1/4 in") is not parted, nor is text at a no-break space.
    """
    return _wrapped(worded(text), font, size, width)


@lru_cache(maxsize=20_000)
def _wrapped(text: str, font: str, size: float, width: float) -> tuple[str, ...]:
    lines: list[str] = []
    line = ""
    for glued in _QUANTITY_GAP.sub(_GLUE, printable(text)).replace(_NO_BREAK, _GLUE).split():
        word = glued.replace(_GLUE, " ")
        wider = f"{line} {word}" if line else word
        if width_of(wider, font, size) <= width:
            line = wider
            continue
        if line:
            lines.append(line)
        *full, line = _pieces(word, font, size, width)
        lines.extend(full)
    return (*lines, line) if line else tuple(lines)


def _pieces(word: str, font: str, size: float, width: float) -> list[str]:
    """A word in pieces that fit, at least one character each, parted after a hyphen or slash where it has one."""
    pieces, piece = [], ""
    for character in word:
        if piece and width_of(piece + character, font, size) > width:
            cut = max(piece.rfind("-"), piece.rfind("/")) + 1 or len(piece)
            pieces.append(piece[:cut])
            piece = piece[cut:]
        piece += character
    return [*pieces, piece]


def height_of(lines: tuple[str, ...], size: float) -> float:
    """Height in points of lines set at `size`."""
    return len(lines) * size * LEADING


def write(canvas: Canvas, x: float, baseline: float, text: str, *, font: str = REGULAR, size: float = 9.0) -> None:
    """One line of text from x on."""
    if text:
        canvas.setFont(font, size)
        canvas.drawString(x, baseline, text)


def write_right(
    canvas: Canvas, x: float, baseline: float, text: str, *, font: str = REGULAR, size: float = 9.0
) -> None:
    """One line of text that ends at x."""
    write(canvas, x - width_of(text, font, size), baseline, text, font=font, size=size)


def write_lines(
    canvas: Canvas, x: float, top: float, lines: tuple[str, ...], *, font: str = REGULAR, size: float = 9.0
) -> float:
    """Lines below `top`; returns the y below them."""
    for line in lines:
        write(canvas, x, top - size, line, font=font, size=size)
        top -= size * LEADING
    return top


def write_fitting(
    canvas: Canvas,
    x: float,
    baseline: float,
    text: str,
    width: float,
    *,
    font: str = REGULAR,
    size: float = 9.0,
) -> None:
    """One line of text set smaller, as far as needed, to stay within `width`: for the big tag and number."""
    needed = width_of(text, font, size)
    write(canvas, x, baseline, text, font=font, size=min(size, size * width / needed) if needed else size)
