"""How the service does: what is amiss comes first, each with its next step; and each figure."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from django.test import Client

from service.health import signs
from service.models import FailedJob, NightlyRun, StaleBow
from tests import personas
from tests.machinery import tasks_go_to
from tests.personas import NOW, Shop, before


@pytest.fixture(autouse=True)
def backups(settings: object, tmp_path: Path) -> Path:
    settings.BACKUP_DIR = tmp_path  # type: ignore[attr-defined]
    return tmp_path


def a_good_night(shop: Shop, backups: Path) -> None:
    NightlyRun.objects.create(site=shop.site, night=NOW.date(), started_at=before(hours=9), ended_at=before(hours=8))
    (backups / f"nightly-{before(hours=8):%Y%m%dT%H%M%SZ}.zip").touch()


def test_all_is_well(shop: Shop, backups: Path, signed_in: Callable[..., Client]) -> None:
    a_good_night(shop, backups)
    page = signed_in(shop.owner).get("/status/").content.decode()
    assert "Nothing is amiss." in page
    assert "0 waiting, 0 in work" in page


def test_each_thing_amiss_is_said(shop: Shop, signed_in: Callable[..., Client]) -> None:
    bow = personas.fitted_bow(shop, "single")
    StaleBow.objects.update_or_create(bow=bow, defaults={"since": before(hours=2)})
    NightlyRun.objects.create(
        site=shop.site, night=NOW.date(), started_at=before(hours=9), ended_at=before(hours=8), error="no solver"
    )
    FailedJob.objects.create(task="bracebook.back_up", task_id="t", at=before(hours=3), error="OSError: disk full")
    FailedJob.objects.create(task="service.old", task_id="o", at=before(days=3), error="OSError: forgotten")
    with tasks_go_to("redis://127.0.0.1:1/0"):
        response = signed_in(shop.owner).get("/status/")
    page = response.content.decode()
    for said in (
        "The broker does not answer",
        "waiting for its refresh",
        "no solver",
        "1 jobs gave up",
        "no nightly backup",
    ):
        assert said in page, said
    assert "disk full" in page and "forgotten" not in page


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"nights": "late"}, "has had no night since"),
        ({"nights": "hanging"}, "began and never ended"),
        ({"disk": signs.Disk(10**9, 10**12)}, "The disk has only 0.9 GB left"),
        ({"queue": signs.Queue(500, 1)}, "500 tasks wait"),
        ({"backup_at": before(days=2)}, "older than a day"),
    ],
)
def test_limits(shop: Shop, backups: Path, change: dict[str, object], said: str) -> None:
    a_good_night(shop, backups)
    found = signs.signs(NOW)
    assert signs.concerns(found) == []
    if change.get("nights") == "late":
        found.nights[0].ended_at = NOW - timedelta(hours=27)
    elif change.get("nights") == "hanging":
        found.nights[0].ended_at = None
    else:
        found = signs.Signs(**{**{name: getattr(found, name) for name in found.__dataclass_fields__}, **change})
    (only,) = signs.concerns(found)
    assert said in only
