"""Loading the demo shop: the same instant gives the same rows, any day will do, only an empty book is taken."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import models, transaction
from django.db.models import Max

from fleet import record
from fleet.models import AuditEntry, Bow
from service import decide
from service.demo import roster
from service.demo.load import load
from service.models import CordWear, Need, NeedKind
from tests.demo.loaded import loaded

NOW = datetime(2026, 7, 1, 15, tzinfo=UTC)
# The night in which Europe's clocks go forward; the last minutes of a year, still the day before at the range.
AWKWARD = [datetime(2026, 3, 29, 0, 30, tzinfo=UTC), datetime(2026, 12, 31, 23, 50, tzinfo=UTC)]
# Written by the clock on the wall, salted, or numbered by the database: not facts of the season.
NOT_FACTS = {"password", "date_joined", "last_login", "detail", "subject_id", "salt", "digest"}


def dump() -> dict[str, list[dict[str, Any]]]:
    """Every row of the register, foreign keys told by their rank, so that spent keys make no difference."""
    found: dict[str, list[dict[str, Any]]] = {}
    kept = list(apps.get_app_config("fleet").get_models())
    ranks = {
        model: {pk: rank for rank, pk in enumerate(model._default_manager.order_by("pk").values_list("pk", flat=True))}
        for model in kept
    }
    for model in kept:
        fields = [field for field in model._meta.concrete_fields if not field.primary_key]
        fields = [field for field in fields if field.name not in NOT_FACTS]
        if model is AuditEntry:
            fields = [field for field in fields if field.name != "at"]
        found[model.__name__] = [
            {field.name: _told(field, row[field.attname], ranks) for field in fields}
            for row in model._default_manager.order_by("pk").values()
        ]
    return found


def _told(field: "models.Field[Any, Any]", value: Any, ranks: dict[Any, dict[int, int]]) -> Any:
    if value is None or not field.is_relation:
        return value
    return ranks[field.related_model][value]


@pytest.mark.django_db
def test_the_same_instant_gives_the_same_rows_to_the_last() -> None:
    dumps = []
    for once in (loaded, load):
        with transaction.atomic():
            once(NOW)
            dumps.append(dump())
            transaction.set_rollback(True)

    for name, rows in dumps[0].items():
        assert rows == dumps[1][name], f"{name} rows differ between two loads of the same instant"
    assert len(dumps[0]["Shots"]) > 3_000


@pytest.mark.django_db
@pytest.mark.parametrize("now", [NOW, *AWKWARD], ids=str)
def test_a_few_bows_are_overdue_a_few_due_and_most_are_fine_whatever_the_day(now: datetime) -> None:
    loaded(now)
    decide.rebuild(now)

    today = now.date()
    needs = Need.objects.filter(kind=NeedKind.REPLACEMENT).select_related("bow")
    overdue = {need.bow.tag for need in needs if need.due_on < today - timedelta(days=1)}
    due = {need.bow.tag for need in needs if need.due_on <= today + timedelta(days=15)} - overdue
    assert overdue == set(roster.OVERDUE)
    assert 3 <= len(due) <= 6
    assert set(roster.DUE_SOON) <= due
    life = CordWear.objects.values("fitting__bow").annotate(most=Max("life_used")).values_list("most", flat=True)
    assert sum(most < 0.9 for most in life) >= 45
    assert Need.objects.filter(kind=NeedKind.SETTLE_IN).exclude(bow__tag=roster.SETTLING_IN).count() <= 2


@pytest.mark.django_db
def test_a_book_with_a_single_person_in_it_is_not_empty() -> None:

    record.found_book(username="me", display_name="Me", password="a-password-of-mine")
    with pytest.raises(CommandError, match="empty book only, and this one has entries: set BRACEBOOK_DATA_DIR to an"):
        call_command("demo")
    assert Bow.objects.count() == 0


@pytest.mark.django_db
@pytest.mark.parametrize("text", ["yesterday", "2026-07-01", "2026-07-01T15:00", "2026-13-01T15:00+00:00"])
def test_an_instant_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(CommandError, match="is not an instant: give day, time and zone, for example"):
        call_command("demo", now=text)
    assert Bow.objects.count() == 0
