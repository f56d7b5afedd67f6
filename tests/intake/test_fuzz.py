"""Whatever stands in a cell or a file: a change or a problem with its line, never a traceback, never half a file."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.models import AuditEntry
from service.intake import TableRefused, read_table
from tests.intake.book import ORDER, SAMPLES, preview, take, take_samples, workbook

pytestmark = pytest.mark.django_db
QUIET = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
CELLS = st.one_of(
    st.text(max_size=30),
    st.text(alphabet="0123456789.,/-+ eE\"'%°cfinml", max_size=12),
    st.sampled_from(
        [
            "1/0", "33 1/4", "1/3/2", "9" * 40, "1e309", "nan", "inf", "-0", "=1+1", "#REF!", "\x00", "٣", "½", "8\"",
            "2026-02-30", "0000-00-00", "9999-12-31T23:59:59-23:59", "0001-01-01T00:00:00+23:59", "2026-W53-7",
            "2026-03-08T02:30", "24:00", "T", "none", "mon-", "-", "sun-mon", "'; drop table fleet_bow; --", "\ud7ff",
            "fenhollow", "FH-001", "compound", "yes",
        ]
    ),
)  # fmt: skip

WORKBOOK = workbook([["code", "name", "time_zone"], ["a", "b", "UTC"]])


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"'


@pytest.mark.parametrize("kind", ORDER)
def test_any_cell(kind: str) -> None:
    take_samples(kind)
    lines = [line.split(",") for line in (SAMPLES / f"{kind}.csv").read_text().splitlines()]
    header, rows = lines[0], lines[1:]

    @QUIET
    @given(st.data())
    def fuzz(data: st.DataObject) -> None:
        row = list(data.draw(st.sampled_from(rows)))
        for place in data.draw(st.lists(st.integers(0, len(header) - 1), min_size=1, max_size=3)):
            row[place] = data.draw(CELLS)
        content = ",".join(header) + "\n" + ",".join(map(_quoted, row)) + "\n"
        entries = AuditEntry.objects.count()
        try:
            seen = preview(kind, content)
        except TableRefused:
            return
        assert AuditEntry.objects.count() == entries
        assert all(one.why for one in seen.problems)
        assert seen.new + seen.changed + seen.unchanged == (1 if seen.clean else 0)

    fuzz()


@pytest.mark.parametrize("kind", ["shots", "stays", "references", "stock"])
def test_what_the_preview_calls_clean_is_taken_in_and_is_unchanged_the_next_time(kind: str) -> None:
    take_samples(kind)
    lines = [line.split(",") for line in (SAMPLES / f"{kind}.csv").read_text().splitlines()]
    header, rows = lines[0], lines[1:]

    @QUIET
    @given(st.data())
    def fuzz(data: st.DataObject) -> None:
        row = list(data.draw(st.sampled_from(rows)))
        place = data.draw(st.integers(0, len(header) - 1))
        row[place] = data.draw(st.sampled_from([other[place] for other in rows]) | CELLS)
        content = ",".join(header) + "\n" + ",".join(map(_quoted, row)) + "\n"
        try:
            seen = preview(kind, content)
        except TableRefused:
            return
        done = take(kind, content)
        assert (done.written, done.new, done.changed) == (seen.clean, seen.new, seen.changed)
        if done.written:
            assert take(kind, content).unchanged == 1

    fuzz()


@QUIET
@given(st.binary(max_size=400) | st.text(max_size=200).map(lambda text: text.encode()))
def test_any_bytes(content: bytes) -> None:
    for data in (content, b"PK\x03\x04" + content, b"code,name,time_zone\n" + content):
        try:
            assert preview("sites", data).problems is not None
        except TableRefused as refused:
            assert str(refused)


@QUIET
@given(st.data())
def test_a_workbook_with_any_byte_changed(data: st.DataObject) -> None:
    whole = bytearray(WORKBOOK)
    for place in data.draw(st.lists(st.integers(0, len(whole) - 1), min_size=1, max_size=4)):
        whole[place] = data.draw(st.integers(0, 255))
    try:
        preview("sites", bytes(whole), "file.xlsx")
    except TableRefused as refused:
        assert str(refused)


def test_a_cut_off_workbook() -> None:
    for length in range(5, len(WORKBOOK), 97):
        with pytest.raises(TableRefused):
            read_table(WORKBOOK[:length], "file.xlsx")
