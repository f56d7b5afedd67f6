"""Files that go out: what a spreadsheet would run is text, numbers stay numbers, both formats hold the same."""

import csv
import io
from datetime import date

import pytest
from openpyxl import load_workbook

from service.export import Format, safe, table_file

HEADER = ("tag", "life_used", "replace_on", "note")
# What OWASP's page on CSV injection names as the beginnings of a formula (from memory): = + - @ tab, carriage return.
DANGEROUS = ("=1+1", "+1", "-1+cmd", "@SUM(A1)", "\t=1", "\r=1", "\n=1")


def read_csv(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode(), newline="")))


def read_xlsx(content: bytes) -> list[tuple[object, ...]]:
    sheet = load_workbook(io.BytesIO(content)).active
    assert sheet is not None
    return list(sheet.iter_rows(values_only=True))


@pytest.mark.parametrize("text", DANGEROUS)
def test_text_that_begins_like_a_formula_is_text_in_both_formats(text: str) -> None:
    rows = [[text, 0.5, date(2026, 7, 1), "plain"]]
    cell = read_csv(table_file(Format.CSV, "due", HEADER, rows))[1][0]
    assert cell.startswith("'")
    book = load_workbook(io.BytesIO(table_file(Format.XLSX, "due", HEADER, rows)))
    assert book.active is not None
    found = book.active["A2"]
    assert (found.data_type, str(found.value)[0]) == ("s", "'")


def test_a_number_below_zero_stays_a_number() -> None:
    rows = [["L-1", -0.07, date(2026, 7, 1), None]]
    assert read_csv(table_file(Format.CSV, "due", HEADER, rows))[1] == ["L-1", "-0.07", "2026-07-01", ""]
    tag, life, day, note = read_xlsx(table_file(Format.XLSX, "due", HEADER, rows))[1]
    assert (tag, life, note) == ("L-1", -0.07, None)
    assert getattr(day, "date", lambda: day)() == date(2026, 7, 1)


def test_plain_text_passes_as_it_is_and_control_characters_go() -> None:
    assert safe("string 24 strands, 1/2") == "string 24 strands, 1/2"
    assert safe("a\x00b\x1fc") == "abc"
    assert safe("\x00=1") == "'=1"
    assert safe(None) is None


def test_a_title_that_a_sheet_cannot_bear_is_shortened() -> None:
    content = table_file(Format.XLSX, "due: [range]/" + "x" * 40, HEADER, [])
    assert load_workbook(io.BytesIO(content)).sheetnames == ["due   range  " + "x" * 18]


def test_an_empty_list_is_a_header_alone() -> None:
    assert read_csv(table_file(Format.CSV, "due", HEADER, [])) == [list(HEADER)]
    assert read_xlsx(table_file(Format.XLSX, "due", HEADER, [])) == [HEADER]
