"""A worker is killed in the middle of a night: the task comes back by itself, once, and what it does is there once."""

import os
import signal
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from fleet import record
from fleet.models import AuditEntry, GuestName
from service import lost_tasks, tasks, upkeep
from service.models import CordWear, NightlyRun, Plan
from tests import machinery, personas
from tests.committed import committed_book
from tests.embedded.running import descendants
from tests.machinery import Process, tasks_go_to, wait_for
from tests.personas import Shop

__all__ = ["committed_book"]
pytestmark = pytest.mark.broker
BOWS = 4
# Measured on two busy cores: 3 to 12 s where a worker starts or lives on; the minute's look adds its pause.
BACK_WITHIN_S = 90.0


@pytest.fixture
def shop(committed_book: None, monkeypatch: pytest.MonkeyPatch) -> Shop:
    """A shop that is open now, with a guest's name whose time is over."""
    monkeypatch.setattr(personas, "NOW", datetime.now(UTC) - timedelta(minutes=1))
    shop = personas.shop()
    for _ in range(BOWS):
        personas.fitted_bow(shop)
    start, end = personas.before(40), personas.before(40, hours=-1)
    record.put_booking(
        by=shop.counter, site=shop.site, reference="B-1", start=start, end=end, hand="right", guest_name="Ada Quade"
    )
    return shop


@pytest.fixture
def night(shop: Shop, valkey: str) -> Iterator[date]:
    """The night that is sent to the broker."""
    with tasks_go_to(valkey):
        yield datetime.now(UTC).date()


def send(shop: Shop, night: date) -> str:
    return str(tasks.night_of_site.delay(shop.site.pk, night.isoformat()).id)


def wait_until_under_way() -> None:
    """Its first step is kept, its last is not."""
    end = time.monotonic() + machinery.PATIENCE_S
    while not NightlyRun.objects.filter(tries=1).exists():
        assert time.monotonic() < end, "the night did not begin"
        time.sleep(0.005)


def kill(worker: Process) -> None:
    """SIGKILL to all of it at once, as a power cut to its machine."""
    for process in (worker.popen.pid, *descendants(worker.popen.pid)):
        os.kill(process, signal.SIGKILL)
    worker.popen.wait()
    assert NightlyRun.objects.get().ended_at is None, "the night was over already: this test no longer tests"


def is_over() -> bool:
    return NightlyRun.objects.get().ended_at is not None


def held_to_have_happened_once(shop: Shop, log: Path, task_id: str) -> None:
    """The night as if nothing had been, and nothing left that could come a second time."""
    run = NightlyRun.objects.get()
    assert (run.error, run.tries) == ("", 2)
    assert Plan.objects.filter(site=shop.site).count() == 1
    assert CordWear.objects.count() == CordWear.objects.values("fitting").distinct().count() == 4 * BOWS - BOWS
    assert not GuestName.objects.exists()
    assert AuditEntry.objects.filter(verb="erase_guest_names").count() == 1
    wait_for("the acknowledgement", lambda: f"[{task_id}] succeeded" in log.read_text())
    assert log.read_text().count(f"[{task_id}] succeeded") == 1
    wait_for("an empty list of tasks under way", lambda: lost_tasks.give_back_lost() == 0)


def test_the_next_worker_does_it(shop: Shop, night: date, valkey: str, tmp_path: Path) -> None:
    with machinery.worker(valkey, tmp_path / "first.log") as first:
        task_id = send(shop, night)
        wait_until_under_way()
        kill(first)
    began = time.monotonic()
    with machinery.worker(valkey, tmp_path / "second.log"):
        wait_for("the night", is_over, BACK_WITHIN_S)
        assert time.monotonic() - began < BACK_WITHIN_S
        held_to_have_happened_once(shop, tmp_path / "second.log", task_id)


def test_its_own_worker_does_it_again_where_only_the_process_at_work_dies(
    shop: Shop, night: date, valkey: str, tmp_path: Path
) -> None:
    with machinery.worker(valkey, tmp_path / "worker.log") as worker:
        (at_work,) = descendants(worker.popen.pid)
        task_id = send(shop, night)
        wait_until_under_way()
        os.kill(at_work, signal.SIGKILL)
        assert not is_over(), "the night was over already: this test no longer tests"
        began = time.monotonic()
        wait_for("the night", is_over, BACK_WITHIN_S)
        assert time.monotonic() - began < BACK_WITHIN_S
        held_to_have_happened_once(shop, tmp_path / "worker.log", task_id)


def test_of_two_workers_the_other_does_it_within_the_minutes_look(
    shop: Shop, night: date, valkey: str, tmp_path: Path
) -> None:
    """No worker starts here: the clock's look of each minute finds what nobody holds."""
    logs = {name: tmp_path / f"{name}.log" for name in ("east", "west")}
    with machinery.worker(valkey, logs["east"], "east") as east, machinery.worker(valkey, logs["west"], "west") as west:
        task_id = send(shop, night)
        wait_until_under_way()
        took_it = east if task_id in logs["east"].read_text() else west
        other = logs["west" if took_it is east else "east"]
        kill(took_it)
        began = time.monotonic()
        while not is_over() and time.monotonic() - began < 2 * BACK_WITHIN_S:
            upkeep.give_back_lost.delay()
            time.sleep(5)
        waited = time.monotonic() - began
        assert lost_tasks.LEFT_ALONE_FOR.total_seconds() - 5 < waited < 2 * BACK_WITHIN_S
        held_to_have_happened_once(shop, other, task_id)
