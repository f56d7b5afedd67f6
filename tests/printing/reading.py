"""Reading a PDF back: its text with places, and its pages as pictures, by libraries that did not write it."""

from dataclasses import dataclass
from io import BytesIO

import numpy as np
import pypdfium2
import zxingcpp
from pypdf import PdfReader
from pypdf.generic import ContentStream

POINTS_PER_INCH = 72
LEAST_BOX = 15.0  # points; a lower rectangle is a tick box, a bar or a bullet


@dataclass(frozen=True)
class Glyph:
    """A visible character and its box in points from the lower left corner of the page."""

    character: str
    left: float
    bottom: float
    right: float
    top: float


def texts(pdf: bytes) -> list[str]:
    """The text of each page, runs of white space as one space."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]


def without_spaces(text: str) -> str:
    return "".join(text.split())


def picture(page: pypdfium2.PdfPage, dpi: int) -> np.ndarray:
    """The page in greyscale, 0 black to 255 white, shape (rows, columns)."""
    return np.asarray(page.render(scale=dpi / POINTS_PER_INCH, grayscale=True).to_pil())


def pages(pdf: bytes) -> list[pypdfium2.PdfPage]:
    document = pypdfium2.PdfDocument(pdf)
    return [document[number] for number in range(len(document))]


def codes(image: np.ndarray) -> list[str]:
    return [found.text for found in zxingcpp.read_barcodes(image)]


def glyphs(page: pypdfium2.PdfPage) -> list[Glyph]:
    text = page.get_textpage()
    found = []
    for index in range(text.count_chars()):
        character = text.get_text_range(index, 1)
        if character.strip():
            found.append(Glyph(character, *text.get_charbox(index)))
    return found


def drawn(pdf: bytes) -> list[tuple[list[Glyph], list[Glyph]]]:
    """Of each page the boxes to write in or around text, and the lines across; both as glyphs without character."""
    reader, found = PdfReader(BytesIO(pdf)), []
    for page in reader.pages:
        boxes, lines, start = [], [], (0.0, 0.0)
        for operands, operator in ContentStream(page.get_contents(), reader).operations:
            numbers = [float(number) for number in operands if operator in (b"re", b"m", b"l")]
            if operator == b"re" and numbers[3] >= LEAST_BOX:
                x, y, width, height = numbers
                boxes.append(Glyph("", x, y, x + width, y + height))
            elif operator == b"m":
                start = (numbers[0], numbers[1])
            elif operator == b"l" and numbers[1] == start[1]:
                lines.append(Glyph("", start[0], start[1], numbers[0], numbers[1]))
        found.append((boxes, lines))
    return found
