"""Taking a file in from a page: preview, bad cells, apply, throw away; whose file and whose rows."""

import csv
import io
import os
import time
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from fleet.models import MeasuringTool, Shots
from service.intake import KINDS
from service.pages import uploads
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop

TOOLS = b"code,kind,site,calibration_due_on\nL-rule-2,rule,larkspur,2027-01-31\nL-scale-2,scale,larkspur,2027-01-31\n"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, settings: object) -> Path:
    settings.DATA_DIR = tmp_path  # type: ignore[attr-defined]
    return tmp_path / "uploads"


@pytest.fixture
def client(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    return signed_in(shop.manager)


def send(client: Client, content: bytes, kind: str = "tools", name: str = "tools.csv", **options: object) -> object:
    return client.post("/take-in/", {"kind": kind, "file": SimpleUploadedFile(name, content)}, **options)  # type: ignore[arg-type]


def workbook(rows: list[list[str]]) -> bytes:
    book, stream = openpyxl.Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(stream)
    return stream.getvalue()


def test_the_preview_counts_and_writes_nothing(client: Client, shop: Shop) -> None:
    response = send(client, TOOLS, follow=True)
    found = response.context["found"]
    assert (found.new, found.changed, found.unchanged, found.problem_count) == (2, 0, 0, 0)
    assert "L-rule-2" in Page(response).words
    assert not MeasuringTool.objects.filter(code="L-rule-2").exists()


def test_applying_takes_all_in_and_forgets_the_file(client: Client, folder: Path) -> None:
    address = send(client, TOOLS)["Location"]
    response = client.post(f"{address}apply/", follow=True)
    assert "2 new, 0 changed, 0 unchanged" in Page(response).text
    assert MeasuringTool.objects.filter(code__in=["L-rule-2", "L-scale-2"]).count() == 2
    assert list(folder.iterdir()) == []
    assert client.get(address).status_code == 404


def test_the_same_file_again_changes_nothing(client: Client) -> None:
    client.post(f"{send(client, TOOLS)['Location']}apply/")
    response = send(client, TOOLS, follow=True)
    assert response.context["found"].unchanged == 2
    assert "taking it in changes nothing" in Page(response).text


def test_every_bad_cell_shows_line_column_value_range_and_fix(client: Client) -> None:
    bad = b"code,kind,site,calibration_due_on\nL-rule-2,ruler,larkspur,2027-01-31\nL-scale-2,scale,larkspur,some day\n"
    response = send(client, bad, follow=True)
    page = Page(response)
    for problem in response.context["found"].problems:
        for shown in (str(problem.line), problem.column, problem.value, problem.why, problem.allowed, problem.fix):
            assert shown in page.text
    assert {(one.line, one.column, one.value) for one in response.context["found"].problems} == {
        (2, "kind", "ruler"),
        (3, "calibration_due_on", "some day"),
    }
    assert "Take it in" not in page.words


def test_a_file_with_bad_cells_is_not_applied_by_force(client: Client) -> None:
    bad = TOOLS + b"L-x,ruler,larkspur,2027-01-31\n"
    address = send(client, bad)["Location"]
    response = client.post(f"{address}apply/")
    assert "Nothing was taken in" in Page(response).text
    assert not MeasuringTool.objects.filter(code="L-rule-2").exists()


def test_the_bad_cells_download_as_a_table_that_runs_nothing(client: Client) -> None:
    bad = b'code,kind,site,calibration_due_on\nL-rule-2,"=cmd()",larkspur,2027-01-31\n'
    address = send(client, bad)["Location"]
    response = client.get(f"{address}bad-cells.csv")
    rows = list(csv.DictReader(io.StringIO(response.content.decode())))
    assert (rows[0]["line"], rows[0]["column"], rows[0]["value"]) == ("2", "kind", "'=cmd()")


def test_a_workbook_reads_like_a_csv(client: Client) -> None:
    content = workbook([["code", "kind", "site"], ["L-rule-9", "rule", "larkspur"]])
    assert send(client, content, name="tools.xlsx", follow=True).context["found"].new == 1


@pytest.mark.parametrize(
    ("content", "name", "said"),
    [
        (b"%PDF-1.7 ...", "list.csv", "a PDF"),
        (b"code,kind,site\n", "head.csv", "no row below it"),
        (b"PK\x03\x04 broken", "broken.xlsx", "workbook"),
    ],
)
def test_what_is_no_table_is_refused_beside_the_field(
    content: bytes, name: str, said: str, client: Client, folder: Path
) -> None:
    response = send(client, content, name=name)
    page = Page(response)
    assert response.status_code == 422
    assert said in page.text
    assert page.control("file")["aria-describedby"] == "file-error"
    assert 'value="tools" selected' in response.content.decode()
    assert list(folder.iterdir()) == []


def test_an_empty_file_a_missing_file_and_a_missing_kind_are_named(client: Client) -> None:
    assert "Choose a file" in Page(client.post("/take-in/", {"kind": "tools"})).text
    assert "Choose what the file holds" in Page(send(client, TOOLS, kind="")).text
    assert "empty" in Page(send(client, b"")).text


def test_a_file_over_the_limit_is_refused(client: Client, settings: object, folder: Path) -> None:
    settings.UPLOAD_MAX_BYTES = 1_000  # type: ignore[attr-defined]
    response = send(client, TOOLS + b"x" * 1_000)
    assert response.status_code == 422
    assert "MB" in Page(response).text
    assert list(folder.iterdir()) == []


def test_throwing_the_file_away_deletes_it(client: Client, folder: Path) -> None:
    address = send(client, TOOLS)["Location"]
    assert len(list(folder.iterdir())) == 2
    client.post(f"{address}drop/")
    assert list(folder.iterdir()) == []


def test_a_kept_file_is_for_the_service_alone_and_goes_after_a_day(client: Client, folder: Path) -> None:
    send(client, TOOLS)
    [old] = [path for path in folder.iterdir() if path.suffix != ".json"]
    assert folder.stat().st_mode & 0o077 == 0
    assert old.stat().st_mode & 0o077 == 0
    yesterday = time.time() - uploads.KEPT_S - 60
    os.utime(old, (yesterday, yesterday))
    send(client, TOOLS)
    assert not old.exists()


@pytest.mark.parametrize("token", ["short", "..%2Fsecret-key", "x" * 32, "../../../../etc/passwd"])
def test_a_made_up_name_opens_nothing(token: str, client: Client, folder: Path) -> None:
    assert client.get(f"/take-in/{token}/").status_code == 404


def test_every_kind_has_a_sample_that_its_own_columns_read(client: Client, shop: Shop) -> None:
    page = Page(client.get("/take-in/"))
    for kind in set(KINDS) - {"sites", "people"}:
        response = client.get(f"/take-in/sample/{kind}.csv")
        content = b"".join(response.streaming_content)
        assert response["Content-Disposition"] == f'attachment; filename="{kind}.csv"'
        found = send(client, content, kind=kind, follow=True).context["found"]
        assert not [one for one in found.problems if one.line <= 1], f"{kind}: the sample's header is not understood"
        assert kind in page.words


def test_shots_taken_in_count_once(client: Client, shop: Shop) -> None:
    bow = personas.fitted_bow(shop, "single", "L-950")
    content = (
        b"tag,start,end,shots,how_known\nL-950,2026-06-20 10:00,2026-06-20 11:00,48,counter\n"
        b"L-950,2026-06-21 10:00,2026-06-21 11:00,36,scorecard\n"
    )
    for _ in range(2):
        client.post(f"{send(client, content, kind='shots', name='shots.csv')['Location']}apply/")
    assert sorted(Shots.objects.filter(bow=bow).values_list("count", flat=True)) == [36, 48]


def test_only_an_owner_takes_in_people_and_sites(client: Client, shop: Shop, signed_in: Callable[..., Client]) -> None:
    content = b"username,display_name,role,site,everywhere\nlarkspur-manager,Larkspur Manager,owner,larkspur,yes\n"
    assert "people" not in Page(client.get("/take-in/")).words
    assert send(client, content, kind="people").status_code == 422
    assert send(signed_in(shop.owner), content, kind="people").status_code == 302


@pytest.mark.parametrize(
    ("kind", "content", "column"),
    [
        ("tools", b"code,kind,site\nnew-rule,rule,ridgecamp\n", "site"),
        ("tools", b"code,kind,site\nridgecamp-rule,rule,larkspur\n", "code"),
        ("shots", b"tag,start,end,shots,how_known\nR-001,2026-06-20 10:00,2026-06-20 11:00,48,counter\n", "tag"),
        ("places", b"site,name,temperature_source\nRidgeCamp,Den,logger\n", "site"),
    ],
)
def test_a_manager_of_one_site_reaches_no_other_sites_records(
    kind: str, content: bytes, column: str, client: Client, camp: Shop
) -> None:
    personas.fitted_bow(camp, "single", "R-001")
    address = send(client, content, kind=kind)["Location"]
    found = client.get(address).context["found"]
    assert (2, column) in {(one.line, one.column) for one in found.problems}
    assert not client.post(f"{address}apply/").context["found"].clean
    assert not Shots.objects.exists()


def test_an_owner_of_every_site_reaches_them_all(shop: Shop, camp: Shop, signed_in: Callable[..., Client]) -> None:
    content = b"code,kind,site\nnew-rule,rule,ridgecamp\n"
    assert send(signed_in(shop.owner), content, follow=True).context["found"].clean
