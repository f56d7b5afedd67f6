"""Two hundred spoilt files through the pages, of every kind, CSV and XLSX: none breaks the book, none changes half.

A refused file changes nothing; a file that was taken changes nothing when it is taken again.
"""

import hashlib
from collections import Counter
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.apps import apps
from django.http import HttpResponse
from django.test import Client
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

from tests.intake.book import NOW, ORDER, SAMPLES, owner, take_samples, workbook
from tests.intake.test_fuzz import CELLS, _quoted
from tests.pages.conftest import BACKEND

pytestmark = pytest.mark.django_db
FILES = 200
EACH_KIND = -(-FILES // len(ORDER)) + 1
CALM = settings(
    max_examples=EACH_KIND,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)
# The chain of acts grows with every file that is taken; what the book says of the shop is all the rest.
NOT_FACTS = {"fleet.auditentry", "fleet.audithead", "fleet.person"}


def sample(kind: str) -> tuple[list[str], list[list[str]]]:
    """Header and rows of the shipped sample."""
    header, *rows = [line.split(",") for line in (SAMPLES / f"{kind}.csv").read_text().splitlines()]
    return header, rows


@st.composite
def files(draw: Any, kind: str) -> tuple[str, bytes]:
    """A file's name and bytes: some rows of the sample, some cells odd, at times its header or its bytes spoilt."""
    header, rows = sample(kind)
    chosen = [list(draw(st.sampled_from(rows))) for _ in range(draw(st.integers(1, 3)))]
    for _ in range(draw(st.integers(0, 3))):
        row = draw(st.integers(0, len(chosen) - 1))
        chosen[row][draw(st.integers(0, len(header) - 1))] = draw(CELLS)
    if draw(st.integers(0, 7)) == 0:
        header = list(header)
        header[draw(st.integers(0, len(header) - 1))] = draw(st.sampled_from([header[0], "", "x", "\x00"]))
    written = _written(draw(st.booleans()), [header, *chosen])
    if draw(st.integers(0, 7)) == 0:
        spoilt = bytearray(written[1])
        spoilt[draw(st.integers(0, len(spoilt) - 1))] = draw(st.integers(0, 255))
        return written[0], bytes(spoilt)
    return written


def _written(as_workbook: bool, lines: list[list[str]]) -> tuple[str, bytes]:
    if as_workbook:
        return "file.xlsx", workbook([[ILLEGAL_CHARACTERS_RE.sub("", cell) for cell in line] for line in lines])
    return "file.csv", "".join(",".join(map(_quoted, line)) + "\r\n" for line in lines).encode()


def facts() -> str:
    """A checksum of every row of the register."""
    digest = hashlib.sha256()
    for model in apps.get_app_config("fleet").get_models(include_auto_created=True):
        if model._meta.label_lower not in NOT_FACTS:
            digest.update(repr(list(model._base_manager.order_by("pk").values_list())).encode())
    return digest.hexdigest()


class Sender:
    """The owner, who sends files and takes them in."""

    def __init__(self) -> None:
        self.client = Client()
        self.client.force_login(owner(), backend=BACKEND)

    def send(self, kind: str, name: str, content: bytes) -> str:
        """Choose, look, take in: "no table", "refused" or "taken"."""
        file = BytesIO(content)
        file.name = name
        answer = self.client.post("/take-in/", {"kind": kind, "file": file})
        if answer.status_code == 422:
            return "no table"
        assert answer.status_code == 302, answer.content[:500]
        assert self.client.get(answer["Location"]).status_code == 200
        applied: HttpResponse = self.client.post(f"{answer['Location']}apply/")
        assert applied.status_code in (200, 302), applied.content[:500]
        return "taken" if applied.status_code == 302 else "refused"


def test_none_breaks_the_book_and_none_changes_half_of_it(tmp_path: Path, settings: Any) -> None:
    settings.DATA_DIR = tmp_path
    with time_machine.travel(NOW, tick=False):
        take_samples()
        sender, counted = Sender(), Counter[str]()
        for kind in ORDER:
            _spoil(sender, kind, counted)
    assert counted["no table"] + counted["refused"] + counted["taken"] >= FILES
    assert min(counted["no table"], counted["refused"], counted["taken"]) >= FILES // 20, counted
    assert min(counted["file.csv"], counted["file.xlsx"]) >= FILES // 4, counted


def _spoil(sender: Sender, kind: str, counted: Counter[str]) -> None:
    @CALM
    @given(files(kind))
    def send(file: tuple[str, bytes]) -> None:
        name, content = file
        before = facts()
        end = sender.send(kind, name, content)
        counted.update((end, name))
        if end != "taken":
            assert facts() == before, "a refused file changed the book"
            return
        after = facts()
        assert sender.send(kind, name, content) == "taken"
        assert facts() == after, "a file that was taken changed the book again"

    send()
