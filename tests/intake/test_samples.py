"""The shipped sample files: an empty book takes them in in the stated order, and once more without any change."""

import pytest
from django.apps import apps

from fleet.models import AuditEntry
from service.intake import KINDS
from tests.intake.book import ORDER, SAMPLES, owner, preview, take, take_samples, workbook

pytestmark = pytest.mark.django_db


def _rows_in_book() -> dict[str, int]:
    return {model.__name__: model.objects.count() for model in apps.get_app_config("fleet").get_models()}


def test_there_is_a_sample_for_every_kind_in_the_stated_order() -> None:
    assert list(KINDS) == list(ORDER)
    assert {path.stem for path in SAMPLES.glob("*.csv")} == set(ORDER)


def test_an_empty_book_takes_the_samples_in_and_again_without_change() -> None:
    take_samples()
    before = _rows_in_book()
    for kind in ORDER:
        again = take(kind, SAMPLES / f"{kind}.csv", "renamed.csv")
        assert (again.written, again.new, again.changed) == (True, 0, 0), (kind, again)
        assert again.unchanged > 0
    assert _rows_in_book() == before


@pytest.mark.parametrize("kind", ORDER)
def test_the_preview_says_what_applying_does_and_writes_nothing(kind: str) -> None:
    if kind != ORDER[0]:
        take_samples(ORDER[ORDER.index(kind) - 1])
    owner()
    before = _rows_in_book()
    seen = preview(kind, SAMPLES / f"{kind}.csv")
    assert seen.clean and seen.new > 0
    assert all(change.differences for change in seen.changes)
    assert _rows_in_book() == before
    done = take(kind, SAMPLES / f"{kind}.csv")
    assert (done.new, done.changed, done.unchanged, done.changes) == (
        seen.new,
        seen.changed,
        seen.unchanged,
        seen.changes,
    )
    assert AuditEntry.objects.count() > before["AuditEntry"]


@pytest.mark.parametrize("kind", ORDER)
def test_a_workbook_of_the_same_text_is_the_same_file(kind: str) -> None:
    take_samples(kind)
    lines = (SAMPLES / f"{kind}.csv").read_text().splitlines()
    again = take(kind, workbook([line.split(",") for line in lines]), f"{kind}.xlsx")
    assert (again.written, again.new, again.changed) == (True, 0, 0), again.problems
