"""Comma-separated text as shops export it: which encoding, which delimiter, and its rows, streamed."""

import codecs
import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from service.intake.problems import TableRefused
from service.said import say

SAMPLE_BYTES = 64 * 1024
CHUNK_BYTES = 1024 * 1024
DELIMITERS = ",;\t"
BYTE_ORDER_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
# Without a mark, UTF-16 text in Latin letters shows as a zero in (nearly) every second byte.
UTF16_SHARE_OF_ZEROS = 0.3
# Control characters that no table holds; C1 ones are left alone, since Latin-1 text may carry a stray one.
_CONTROL = re.compile("[\x00-\x08\x0b\x0e-\x1f]")
_SEPARATOR_LINE = re.compile(r"sep=(.)\s*", re.IGNORECASE)


@dataclass(frozen=True)
class CsvForm:
    """How a file is written. `lines_before` counts a leading "sep=" line, which some spreadsheets write."""

    encoding: str
    delimiter: str
    lines_before: int = 0


def sniff(stream: BinaryIO, name: str) -> CsvForm:
    """Tell encoding and delimiter of a file. Raises TableRefused for one that is no text."""
    sample = stream.read(SAMPLE_BYTES)
    encoding = _encoding(sample, stream)
    text = codecs.getincrementaldecoder(encoding)(errors="strict" if encoding == "cp1252" else "replace").decode(sample)
    if _CONTROL.search(text):
        raise TableRefused(
            say("%(name)s is not text (it holds control characters): export the table as CSV or .xlsx.", name=name)
        )
    first = next((line for line in text.splitlines() if line.strip()), "")
    declared = _SEPARATOR_LINE.fullmatch(first)
    if declared and declared[1] in DELIMITERS:
        return CsvForm(encoding, declared[1], lines_before=1)
    unquoted = re.sub(r'"[^"]*"', "", first)
    return CsvForm(encoding, max(DELIMITERS, key=unquoted.count))


def _encoding(sample: bytes, stream: BinaryIO) -> str:
    for mark, encoding in BYTE_ORDER_MARKS:
        if sample.startswith(mark):
            return encoding
    for encoding, zeros in (("utf-16-le", sample[1::2]), ("utf-16-be", sample[::2])):
        if zeros.count(0) > UTF16_SHARE_OF_ZEROS * max(1, len(zeros)):
            return encoding
    decoder = codecs.getincrementaldecoder("utf-8")()
    chunk = sample
    try:
        while chunk:
            decoder.decode(chunk)
            chunk = stream.read(CHUNK_BYTES)
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return _single_byte(stream)
    return "utf-8"


def _single_byte(stream: BinaryIO) -> str:
    """cp1252 unless the file uses one of the five bytes that cp1252 leaves undefined; Latin-1 has them all."""
    stream.seek(0)
    undefined = re.compile(b"[\x81\x8d\x8f\x90\x9d]")
    while chunk := stream.read(CHUNK_BYTES):
        if undefined.search(chunk):
            return "latin-1"
    return "cp1252"


def csv_lines(stream: BinaryIO) -> int:
    """About how many rows a file has: its line feeds."""
    count = 0
    while chunk := stream.read(CHUNK_BYTES):
        count += chunk.count(b"\n")
    return count


def csv_rows(stream: BinaryIO, form: CsvForm) -> Iterator[tuple[int, list[str]]]:
    """(line on which the row begins, its cells stripped of outer spaces), the header included."""
    text = io.TextIOWrapper(stream, encoding=form.encoding, newline="")
    reader = csv.reader(text, delimiter=form.delimiter, strict=True)
    line = 1
    try:
        for cells in reader:
            if line > form.lines_before:
                yield line, [cell.strip() for cell in cells]
            line = reader.line_num + 1
    except csv.Error as fault:
        raise TableRefused(
            say(
                "The row that begins on line %(line)s cannot be read (%(fault)s): close its quotation mark, "
                'and write a quotation mark inside a quoted cell twice ("").',
                line=line,
                fault=str(fault),
            )
        ) from fault
    except UnicodeDecodeError as fault:
        raise TableRefused(
            say(
                "The text after line %(line)s is not %(encoding)s (%(reason)s): save the file again as UTF-8.",
                line=line,
                encoding=form.encoding,
                reason=fault.reason,
            )
        ) from fault
