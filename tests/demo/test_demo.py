"""The demo shop: the same every time, all kinds of bow in it, and only into an empty book."""

import hashlib
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

from fleet.models import Bow, Fitting, Hold, Incident, Shots, SignedResult, Site, Stay, TemperatureReading
from service import decide
from service.demo.load import load
from service.models import CordWear, Need, NeedKind
from service.verdicts import verdicts_of

NOW = datetime(2026, 7, 1, 15, tzinfo=UTC)
BOWS = 60


@pytest.fixture(scope="module")
def demo(django_db_setup: None, django_db_blocker: pytest.FixtureRequest) -> Iterator[None]:
    """The demo shop, loaded once for the module and rolled back after it."""

    with django_db_blocker.unblock(), transaction.atomic():  # type: ignore[attr-defined]
        load(NOW)
        decide.rebuild(NOW)
        yield
        transaction.set_rollback(True)


def facts() -> str:
    """A digest of the facts that the season consists of."""
    digest = hashlib.sha256()
    for rows in (
        Bow.objects.order_by("tag").values_list("tag", "serial", "spec_sheet__code", "hand"),
        Fitting.objects.order_by("bow__tag", "position", "fitted_at").values_list("cord__serial", "fitted_at"),
        Shots.objects.order_by("key").values_list("bow__tag", "start", "end", "count", "key"),
        Stay.objects.order_by("bow__tag", "start").values_list("bow__tag", "place__name", "start", "end"),
        TemperatureReading.objects.order_by("place__name", "at").values_list("place__name", "at", "celsius"),
    ):
        digest.update(repr(list(rows)).encode())
    return digest.hexdigest()


def test_sixty_bows_of_every_kind_and_cam_system(demo: None) -> None:
    assert Bow.objects.count() == BOWS
    assert Site.objects.count() == 2
    kinds = set(Bow.objects.values_list("spec_sheet__bow_kind", "spec_sheet__cam_system"))
    assert {system for kind, system in kinds if kind == "compound"} == {"single", "hybrid", "twin", "binary"}
    assert {"recurve", "longbow"} <= {kind for kind, _ in kinds}


def test_the_season_has_its_troubles(demo: None) -> None:
    assert Incident.objects.filter(kind="dry_fire").count() == 1
    assert Hold.objects.filter(released=None).exists()
    assert Fitting.objects.filter(removed_why="condemned").exclude(finding="").exists()
    assert SignedResult.objects.exclude(released_at=None).exists()
    assert Bow.objects.exclude(retirement=None).exists()


def test_some_cords_are_overdue_and_most_are_fine(demo: None) -> None:
    wears = list(CordWear.objects.all())
    past = [wear for wear in wears if wear.life_used >= wear.replacement_point]
    assert past and len(past) < len(wears) / 4
    assert Need.objects.filter(kind=NeedKind.REPLACEMENT, due_on__lt=NOW.date()).exists()


def test_a_bow_past_its_replacement_date_may_not_go_out(demo: None) -> None:
    verdicts = verdicts_of(list(Bow.objects.select_related("site", "spec_sheet")), NOW)
    overdue = Need.objects.filter(kind=NeedKind.REPLACEMENT, latest_on__lt=NOW.date())
    assert overdue.exists()
    assert not any(verdicts[need.bow_id].may_go for need in overdue)


def test_it_goes_into_an_empty_book_only(demo: None) -> None:
    with pytest.raises(CommandError, match="empty book only"):
        call_command("demo")


@pytest.mark.django_db
def test_the_same_instant_gives_the_same_facts() -> None:

    digests = []
    for _ in range(2):
        with transaction.atomic():
            load(NOW)
            digests.append(facts())
            transaction.set_rollback(True)
        # A rolled-back load leaves nothing behind but spent keys.
        assert not Bow.objects.exists()
    assert digests[0] == digests[1]
