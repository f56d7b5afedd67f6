"""What is due is sent on although somebody sets the machine's clock: by an hour, by a day, forward and back."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
import time_machine
from celery import Celery
from celery.beat import PersistentScheduler, ScheduleEntry

from service.celery import app as ours
from service.steady_clock import SteadyScheduler
from tests.personas import NOW

EVERY_S = 60.0
Begin = Callable[[], "Noting"]
JUMPS = [timedelta(hours=1), timedelta(days=1), timedelta(hours=-1), timedelta(days=-1)]


class Noting(SteadyScheduler):
    """Notes the name of what it would send."""

    def __init__(self, **given: object) -> None:
        self.sent: list[str] = []
        super().__init__(**given)

    def apply_async(self, entry: ScheduleEntry, *_args: object, **_more: object) -> None:
        self.sent.append(entry.name)


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def begin(clock: time_machine.Traveller, tmp_path: Path) -> Begin:
    """Start it; again on the same file, as after a restart."""

    def start() -> Noting:
        app = Celery("noting", broker="memory://", set_as_current=False)
        app.conf.beat_schedule = {"each minute": {"task": "t", "schedule": EVERY_S}}
        return Noting(app=app, schedule_filename=str(tmp_path / "schedule"))

    return start


def pass_minutes(scheduler: Noting, clock: time_machine.Traveller, minutes: int) -> int:
    """Let it tick each ten seconds; how often it sent."""
    before = len(scheduler.sent)
    for _ in range(minutes * 6):
        clock.shift(timedelta(seconds=10))
        while scheduler.tick() == 0:
            pass
    return len(scheduler.sent) - before


@pytest.mark.parametrize("jump", JUMPS)
def test_it_sends_on_after_the_clock_was_set(begin: Begin, clock: time_machine.Traveller, jump: timedelta) -> None:
    scheduler = begin()
    assert pass_minutes(scheduler, clock, 5) == 5
    clock.shift(jump)
    assert pass_minutes(scheduler, clock, 5) in (4, 5, 6)


@pytest.mark.parametrize("jump", JUMPS)
def test_and_after_a_restart_on_the_other_clock(begin: Begin, clock: time_machine.Traveller, jump: timedelta) -> None:
    scheduler = begin()
    pass_minutes(scheduler, clock, 5)
    scheduler.close()
    clock.shift(jump)
    assert pass_minutes(begin(), clock, 5) in (4, 5, 6)


def test_the_service_is_clocked_by_it() -> None:
    assert ours.conf.beat_scheduler == f"{SteadyScheduler.__module__}:{SteadyScheduler.__name__}"
    assert issubclass(SteadyScheduler, PersistentScheduler)
