"""Every address that answers with a table for a spreadsheet: no cell of text begins like a formula, CSV or XLSX.

OWASP, "CSV Injection": a cell that begins with = + - @, a tab or a carriage return is run as a formula. The addresses
come from the resolver, so a new table is held here or fails the first test.
"""

import csv
import io
import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from openpyxl import load_workbook

from fleet import record
from fleet.models import Bow, Cord, CordSpec, Person, SpecSheet
from tests import personas
from tests.pages.test_access_matrix import ADDRESSES
from tests.personas import NOW, Shop

EVIL = '=HYPERLINK("x")'
EVERY_START = ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1")
# Addresses that end in a table, by name; {format} is asked as both.
TABLES = {
    "due-file", "costs-file", "parts-file", "order-list-file", "reorder-csv", "bow-record-zip", "feed-csv",
    "take-in-problems", "take-in-sample",
}  # fmt: skip
NUMBER = re.compile(r"-?\d+(\.\d+)?(e[-+]?\d+)?")


@pytest.fixture
def evil_shop(shop: Shop, computed: Callable[[], int]) -> Shop:
    """A shop in which everything that people name begins like a formula."""
    bow = personas.fitted_bow(shop, tag="L-900")
    personas.shoot(shop, bow, 40)
    record.hold(by=shop.manager, bow=bow, reason="person", detail=EVIL, since=NOW)
    record.put_site(by=shop.owner, code="larkspur", name=EVIL)
    Bow.objects.filter(pk=bow.pk).update(serial=EVIL)
    for number, cord in enumerate(Cord.objects.all()):
        start = EVERY_START[number % len(EVERY_START)]
        Cord.objects.filter(pk=cord.pk).update(serial=f"{start}{number}", lot=start)
    CordSpec.objects.update(maker=EVIL, reorder_point=9)
    SpecSheet.objects.update(maker=EVIL, model="@SUM(1)")
    Person.objects.filter(pk=shop.technician.pk).update(display_name=EVIL)
    computed()
    return shop


def cells(response: HttpResponse) -> Iterator[object]:
    """Every cell of an answer: of a CSV, of a sheet, of each CSV of a zip."""
    content, kind = b"".join(response) if response.streaming else response.content, response["Content-Type"]
    if "csv" in kind:
        yield from _of_csv(content.decode())
    elif "sheet" in kind:
        for row in load_workbook(io.BytesIO(content)).active.iter_rows():
            assert all(cell.data_type != "f" for cell in row), "a formula"
            yield from (cell.value for cell in row)
    else:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            for name in archive.namelist():
                if name.endswith(".csv"):
                    yield from _of_csv(archive.read(name).decode())


def _of_csv(text: str) -> Iterator[str]:
    for row in csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline="")):
        yield from row


def test_every_table_of_the_resolver_is_held_here() -> None:
    ending = {
        name for space, name, route in ADDRESSES if not space and re.search(r"\.(csv|zip|xlsx|<str:format>)$", route)
    }
    assert ending == TABLES


@pytest.fixture
def answers(
    evil_shop: Shop, signed_in: Callable[..., Client], tmp_path: Path, settings: object
) -> dict[str, HttpResponse]:
    settings.DATA_DIR = tmp_path  # type: ignore[attr-defined]
    shop, owner = evil_shop, signed_in(evil_shop.owner)
    _key, token = record.make_feed(by=shop.manager, site=shop.site, technician=None, now=NOW)
    bad = "code,kind,site,resolution_in\n" + "".join(f'"{one}","{one}",larkspur,"{one}"\n' for one in EVERY_START)
    kept = owner.post("/take-in/", {"kind": "tools", "file": SimpleUploadedFile("t.csv", bad.encode())})
    addresses = {
        **{f"due-file {kind}": f"/due/file.{kind}" for kind in ("csv", "xlsx")},
        **{f"costs-file {kind}": f"/costs/file.{kind}" for kind in ("csv", "xlsx")},
        **{f"parts-file {kind}": f"/parts/file.{kind}" for kind in ("csv", "xlsx")},
        **{f"order-list-file {kind}": f"/orders/file.{kind}" for kind in ("csv", "xlsx")},
        "reorder-csv": "/parts/reorder.csv",
        "bow-record-zip": "/bows/L-900/record.zip",
        "feed-csv": f"/calendars/{token}.csv",
        "take-in-problems": f"{kept['Location']}bad-cells.csv",
        "take-in-sample": "/take-in/sample/shots.csv",
    }
    assert {name.split()[0] for name in addresses} == TABLES
    return {name: owner.get(address) for name, address in addresses.items()}


def test_no_cell_begins_like_a_formula_and_numbers_stay_numbers(answers: dict[str, HttpResponse]) -> None:
    tied = 0
    for name, response in answers.items():
        assert response.status_code == 200, name
        for cell in cells(response):
            if isinstance(cell, str) and not NUMBER.fullmatch(cell):
                assert not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n")), (name, cell)
                tied += cell.startswith(("'=", "'+", "'-", "'@", "'\t"))
    assert tied > 20, "the tables had the formulas in them"
