"""Files as shops send them: encodings, delimiters, workbooks; and files that are no table, each told what it is."""

import io
import tracemalloc
import zipfile
from datetime import date, datetime
from pathlib import Path

import openpyxl
import pytest

from fleet.models import Bow, ReferenceMeasurement, Site, TemperatureReading
from service.intake import TableRefused, read_table
from tests.intake.book import SAMPLES, preview, take, take_samples, workbook

SITES = "code,name,time_zone,indoor_temperature_c\ngruene-au,Grüne Au – Schießplatz,Europe/Berlin,19.5\n"
MEGABYTE = 1024 * 1024


def _table(content: bytes) -> list[list[str]]:
    return [cells for _, cells in read_table(content, "file.csv").rows()]


@pytest.mark.django_db
@pytest.mark.parametrize(
    "content",
    [
        SITES.encode(),
        SITES.encode("utf-8-sig"),
        SITES.encode("utf-16"),
        b"\xfe\xff" + SITES.encode("utf-16-be"),
        SITES.encode("utf-16-le"),
        SITES.encode("utf-16-be"),
        SITES.encode("cp1252"),
        SITES.replace(",", ";").replace("19.5", "19,5").encode("cp1252"),
        SITES.replace(",", "\t").encode(),
        ("sep=;\r\n" + SITES.replace(",", ";").replace("\n", "\r\n")).encode("utf-8-sig"),
        SITES.replace("\n", "\r").encode(),
        ("\n\n" + SITES.replace("\n", "\n\n")).encode(),
        SITES.replace("Grüne Au – Schießplatz", '"Grüne Au –\r\nSchießplatz"').encode(),
        SITES.replace(",", " , ").encode(),
    ],
    ids=[
        "utf-8", "utf-8 with mark", "utf-16", "utf-16 big-endian", "utf-16-le without mark", "utf-16-be without mark",
        "cp1252", "semicolons and decimal comma", "tabs", "sep line and crlf", "cr", "blank lines", "quoted line end",
        "spaces",
    ],
)  # fmt: skip
def test_however_it_is_written(content: bytes) -> None:
    outcome = take("sites", content)
    assert outcome.written, [str(one) for one in outcome.problems]
    site = Site.objects.get()
    assert (site.name, site.indoor_temperature_c) == ("Grüne Au – Schießplatz", 19.5)


def test_latin_1_with_bytes_that_cp1252_has_not() -> None:
    assert _table("code,name\nx,caf\xe9\x81\n".encode("latin-1")) == [["x", "caf\xe9\x81"]]


def test_lines_are_those_of_the_file_also_after_a_quoted_line_end() -> None:
    table = read_table(b'a,b\n\n1,"x\ny"\n2,z\n', "file.csv")
    assert [line for line, _ in table.rows()] == [3, 5]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"\n \n\t\n", "holds no text"),
        (b"\xef\xbb\xbf", "holds no text"),
        (b"tag,start,end\n\n", "no row below it"),
        (b"\x89PNG\r\n\x1a\n" + bytes(100), "a picture"),
        (b"%PDF-1.7\n...", "a PDF"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(512), "old binary format"),
        (b"\x1f\x8b\x08\x00abc", "compressed"),
        (bytes(range(32)) * 10, "not text"),
        (b"PK\x03\x04 no archive at all", "not a workbook"),
    ],
)
def test_what_is_no_table_is_told_what_it_is(content: bytes, words: str) -> None:
    with pytest.raises(TableRefused, match=words):
        read_table(content, "file.csv")


@pytest.mark.django_db
def test_an_open_quotation_mark_names_its_line_and_loses_nothing() -> None:
    take_samples("sites")
    found = take(
        "places", b'site,name,temperature_source\nfenhollow,a,logger\nfenhollow,"b,logger\nfenhollow,c,logger\n'
    )
    assert not found.written
    assert "line 3" in str(found.problems[-1])


class TestSize:
    @pytest.mark.django_db
    def test_50_mb_are_read_as_a_stream(self, tmp_path: Path) -> None:
        """Rows padded with spaces, so that the file is large and the test short. 16 MB of memory is a third of it."""
        take_samples("bows")
        path = tmp_path / "large.csv"
        padding = " " * 2_600
        with path.open("w") as file:
            file.write("site,place,at,temperature_c\n")
            for hour in range(20_000):
                at = datetime.fromtimestamp(1_700_000_000 + 3_600 * hour).isoformat()
                file.write(f"fenhollow,rack A,{at}Z,{padding}20.5\n")
        assert path.stat().st_size > 50 * MEGABYTE
        preview("temperatures", "site,place,at,temperature_c\nfenhollow,rack A,2026-01-01T00:00Z,20\n")
        tracemalloc.start()
        seen = preview("temperatures", path)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert (seen.new, seen.problem_count) == (20_000, 0)
        assert peak < 16 * MEGABYTE
        assert take("temperatures", path).written
        assert TemperatureReading.objects.count() == 20_000

    def test_beyond_the_limit_it_is_refused_with_the_limit(self, settings: object) -> None:
        settings.UPLOAD_MAX_BYTES = MEGABYTE  # type: ignore[attr-defined]
        with pytest.raises(TableRefused, match=r"1\.1 MB, and at most 1\.0 MB"):
            read_table(b"a,b\n" + b"1,2\n" * 300_000, "file.csv")

    def test_a_workbook_that_unpacks_to_too_much(self, settings: object) -> None:
        settings.UPLOAD_MAX_BYTES = MEGABYTE  # type: ignore[attr-defined]
        content = _with_entry(workbook([["a"], [1]]), "xl/media/filler.bin", bytes(2 * MEGABYTE))
        assert len(content) < MEGABYTE / 10
        with pytest.raises(TableRefused, match="unpacks to 2"):
            read_table(content, "bomb.xlsx")

    def test_a_workbook_that_lies_about_its_size(self, settings: object) -> None:
        settings.UPLOAD_MAX_BYTES = MEGABYTE  # type: ignore[attr-defined]
        rows = b"<row><c><v>1</v></c></row>" * 200_000
        honest = _with_sheet(b"<sheetData>" + rows + b"</sheetData>")
        with zipfile.ZipFile(io.BytesIO(honest)) as archive:
            size = archive.getinfo("xl/worksheets/sheet1.xml").file_size
        with pytest.raises(TableRefused):
            read_table(honest.replace(size.to_bytes(4, "little"), (1_000).to_bytes(4, "little")), "bomb.xlsx")


def _with_entry(content: bytes, name: str, data: bytes) -> bytes:
    out = io.BytesIO(content)
    with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, data)
    return out.getvalue()


def _with_sheet(sheet_data: bytes, doctype: bytes = b"") -> bytes:
    """A workbook whose one sheet has this XML."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(workbook([["a"], [1]]))) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for entry in old.infolist():
            data = old.read(entry)
            if entry.filename == "xl/worksheets/sheet1.xml":
                space = b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
                data = b'<?xml version="1.0"?>' + doctype + b"<worksheet " + space + b">" + sheet_data + b"</worksheet>"
            new.writestr(entry.filename, data)
    return out.getvalue()


class TestWorkbooks:
    def test_openpyxl_reads_through_defusedxml(self) -> None:
        assert openpyxl.DEFUSEDXML

    def test_entities_are_refused(self) -> None:
        entities = b'<!DOCTYPE w [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
        with pytest.raises(TableRefused, match="not a workbook"):
            read_table(_with_sheet(b"<sheetData><row><c t='str'><v>&b;</v></c></row></sheetData>", entities), "x.xlsx")

    def test_stated_dimensions_are_not_believed(self) -> None:
        data = (
            b'<dimension ref="A1:XFD1048576"/><sheetData><row r="1"><c r="A1"><v>1</v></c></row>'
            b'<row r="2"><c r="A2"><v>2</v></c></row></sheetData>'
        )
        assert _table(_with_sheet(data)) == [["2"]]

    def test_more_columns_than_any_kind_has(self) -> None:
        with pytest.raises(TableRefused, match="256 columns"):
            read_table(workbook([list(range(300)), list(range(300))]), "wide.xlsx")

    def test_typed_cells_read_as_the_text_of_a_csv(self) -> None:
        row = [33.25, 40, datetime(2026, 5, 1, 9, 30), date(2026, 5, 1), True, "  text ", None, 0.8, "33 1/4"]
        content = workbook([["a"] * len(row), row], H2="0%")
        assert _table(content) == [
            ["33.25", "40", "2026-05-01T09:30:00", "2026-05-01", "yes", "text", "", "80 %", "33 1/4"]
        ]

    def test_two_sheets_with_data_are_refused_so_that_none_is_lost(self) -> None:
        book = openpyxl.load_workbook(io.BytesIO(workbook([["a"], [1]])))
        book.create_sheet("other").append(["x"])
        out = io.BytesIO()
        book.save(out)
        with pytest.raises(TableRefused, match="2 sheets"):
            read_table(out.getvalue(), "two.xlsx")

    def test_an_empty_workbook(self) -> None:
        with pytest.raises(TableRefused, match="holds no text"):
            read_table(workbook([]), "empty.xlsx")

    def test_another_kind_of_archive(self) -> None:
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as archive:
            archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        with pytest.raises(TableRefused, match="not a workbook"):
            read_table(out.getvalue(), "file.ods")

    @pytest.mark.django_db
    def test_excel_dates_are_days_and_local_times(self) -> None:
        take_samples("specs")
        content = workbook(
            [
                [
                    "tag",
                    "spec_sheet",
                    "hand",
                    "site",
                    "in_service_on",
                    "draw_length_in",
                    "peak_weight_lb",
                    "set_up_since",
                ],
                ["X-1", "QM-HERON", "right", "fenhollow", date(2026, 3, 1), 28.5, 50, datetime(2026, 3, 2, 9, 30)],
            ]
        )
        assert take("bows", content, "bows.xlsx").written
        bow = Bow.objects.get()
        assert bow.in_service_on == date(2026, 3, 1)
        assert f"{bow.set_ups.get().since:%Y-%m-%d %H:%M}" == "2026-03-02 16:30"

    @pytest.mark.django_db
    def test_a_formula_without_a_saved_result_is_not_read_as_an_empty_cell(self) -> None:
        take_samples("sites")
        content = workbook([["site", "name", "temperature_source", "shade"], ["fenhollow", "a", "logger", '="y"&"es"']])
        found = take("places", content, "places.xlsx")
        assert not found.written
        assert [one.column for one in found.problems] == ["shade"] and "formula" in found.problems[0].fix

    @pytest.mark.django_db
    def test_an_error_of_the_spreadsheet_is_not_taken_for_text(self) -> None:
        take_samples("sites")
        content = workbook([["site", "name", "temperature_source"], ["fenhollow", "#REF!", "logger"]])
        assert [one.column for one in take("places", content, "places.xlsx").problems] == ["name"]

    @pytest.mark.django_db
    def test_a_share_shown_in_percent_is_that_share(self) -> None:
        take_samples("bows")
        content = workbook(
            [["tag", "origin", "taken_at", "let_off_percent", "let_off_tolerance_percent"],
             ["FH-001", "maker", date(2026, 3, 1), 0.8, 2]],
            D2="0%",
        )  # fmt: skip
        assert take("references", content, "references.xlsx").written
        measured = ReferenceMeasurement.objects.get()
        assert (measured.value, measured.tolerance) == (pytest.approx(0.8), pytest.approx(0.02))


def test_a_path_and_its_bytes_are_the_same_table() -> None:
    path = SAMPLES / "bows.csv"
    assert list(read_table(path, "a").rows()) == list(read_table(path.read_bytes(), "b").rows())
