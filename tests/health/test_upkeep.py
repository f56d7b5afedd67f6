"""The book goes on without a broker and catches up; tasks done twice do nothing twice; lost ones come back at once."""

import sys
import time
from datetime import timedelta
from pathlib import Path
from unittest.mock import patch

import pytest
import time_machine
from django.contrib.sessions.models import Session

from fleet import record
from service import decide, lost_tasks, stale, upkeep
from service.celery import app
from service.cord_lives import cord_lives
from service.health.failed_jobs import note_failure
from service.models import CordWear, FailedJob, StaleBow
from tests import machinery, personas
from tests.backup.conftest import folders
from tests.committed import committed_book
from tests.embedded.test_unfinished_tasks import TAKE_AND_HANG
from tests.machinery import Process, tasks_go_to, wait_for
from tests.personas import NOW

__all__ = ["committed_book", "folders"]
NOBODY_LISTENS = "redis://127.0.0.1:1/0"


def is_exact() -> bool:
    """Whether every saved life equals one computed from the whole history."""
    saved = dict(CordWear.objects.values_list("fitting_id", "life_used"))
    found = cord_lives(list(CordWear.objects.values_list("fitting__bow", flat=True).distinct()), NOW)
    full = dict(zip([one.pk for one in found.fittings], found.life.total.tolist(), strict=True))
    return saved == pytest.approx(full, abs=1e-9)


@pytest.mark.both_engines
class TestWithoutABroker:
    @pytest.fixture(autouse=True)
    def _away(self, committed_book: None) -> object:
        with time_machine.travel(NOW, tick=False), tasks_go_to(NOBODY_LISTENS):
            yield

    def test_one_fact_is_counted_at_once(self) -> None:
        """It is computed by whoever wrote it, after the commit: the queue has no part in it."""
        shop = personas.shop()
        bow = personas.fitted_bow(shop, "single")
        personas.shoot(shop, bow, 100)
        assert not StaleBow.objects.exists()
        assert is_exact()

    def test_a_file_over_many_bows_is_taken_in_and_caught_up_later(self) -> None:
        shop = personas.shop()
        bows = [personas.fitted_bow(shop, "single") for _ in range(stale.AT_ONCE + 1)]
        rows = [record.ShotsRow(bow, NOW, NOW, 50, "counter", f"file-{bow.pk}") for bow in bows]
        began = time.monotonic()
        record.add_many_shots(by=shop.technician, rows=rows, source="file", now=NOW)
        assert time.monotonic() - began < 30
        assert StaleBow.objects.count() == len(bows)
        with tasks_go_to("memory://"):
            assert upkeep.refresh_stale() == len(bows)
        assert not StaleBow.objects.exists()
        assert is_exact()

    def test_the_rebuild_of_the_night_catches_up_too(self) -> None:
        shop = personas.shop()
        bow = personas.fitted_bow(shop, "single")
        with patch.object(decide, "add_entry", side_effect=RuntimeError("killed")):
            personas.shoot(shop, bow, 100)
        assert StaleBow.objects.exists()
        decide.rebuild(NOW)
        assert not StaleBow.objects.exists()
        assert is_exact()


@pytest.mark.django_db
def test_refreshing_twice_changes_nothing() -> None:
    shop = personas.shop()
    bow = personas.fitted_bow(shop, "single")
    with time_machine.travel(NOW, tick=False):
        upkeep.refresh_stale()
        before = list(CordWear.objects.filter(fitting__bow=bow).values_list("fitting", "life_used"))
        assert upkeep.refresh_stale() == 0
    assert list(CordWear.objects.filter(fitting__bow=bow).values_list("fitting", "life_used")) == before


def test_backing_up_twice_keeps_one_of_the_same_second(committed_book: None, folders: Path) -> None:
    personas.shop()
    with time_machine.travel(NOW, tick=False):
        assert upkeep.back_up() == upkeep.back_up()
    assert len(list((folders / "backups").glob("*.zip"))) == 1


@pytest.mark.django_db
def test_a_job_that_gave_up_is_written_down_and_forgotten_after_a_month() -> None:
    with time_machine.travel(NOW - timedelta(days=31)):
        note_failure(upkeep.back_up, "old", OSError("long ago"))
    with time_machine.travel(NOW):
        note_failure(upkeep.back_up, "new", OSError(28, "No space left on device"))
    found = FailedJob.objects.get()
    assert (found.task, found.task_id) == ("bracebook.back_up", "new")
    assert "No space left on device" in found.error


def test_the_clock_names_tasks_that_exist() -> None:
    app.loader.import_default_modules()
    assert {entry["task"] for entry in app.conf.beat_schedule.values()} <= set(app.tasks)


@pytest.mark.django_db
def test_sessions_that_are_over_are_dropped_and_the_others_stay() -> None:
    with time_machine.travel(NOW, tick=False):
        for key, ends in (("over", NOW - timedelta(minutes=1)), ("open", NOW + timedelta(minutes=1))):
            Session.objects.create(session_key=key, session_data="", expire_date=ends)
        upkeep.forget_sessions()
    assert list(Session.objects.values_list("session_key", flat=True)) == ["open"]


@pytest.mark.broker
class TestLostTasks:
    def take_and_die(self, valkey: str, folder: Path) -> str:
        """A worker takes a task and is killed with it; returns the task's id."""
        sent = app.send_task("celery.backend_cleanup")
        taker = Process([sys.executable, "-c", TAKE_AND_HANG, valkey], folder / "taker.log")
        wait_for("the taking", lambda: taker.said("taken"))
        taker.popen.kill()
        taker.popen.wait()
        return str(sent.id)

    def test_come_back_within_seconds_when_a_worker_starts(
        self, transactional_db: None, valkey: str, tmp_path: Path
    ) -> None:
        with tasks_go_to(valkey):
            lost = self.take_and_die(valkey, tmp_path)
            with machinery.worker(valkey, tmp_path / "worker.log") as worker:
                began = time.monotonic()
                wait_for("the lost task", lambda: worker.said(f"celery.backend_cleanup[{lost}] succeeded"), 30)
                assert time.monotonic() - began < 20
            assert lost_tasks.give_back_lost() == 0

    def test_one_that_a_living_worker_holds_is_left_to_it(self, valkey: str, tmp_path: Path) -> None:
        with tasks_go_to(valkey):
            held = self.take_and_die(valkey, tmp_path)
            with patch.object(lost_tasks, "held_by_workers", return_value={held}):
                assert lost_tasks.give_back_lost() == 0
            assert lost_tasks.give_back_lost() == 1
            with app.connection_for_write() as connection:
                again = connection.SimpleQueue("celery").get(timeout=5)
                assert again.headers["id"] == held
                again.ack()
