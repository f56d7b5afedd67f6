"""A task that a killed worker had taken is back in its queue before the next worker starts."""

import sys

import pytest

from service.celery import app
from service.embedded import broker
from tests.machinery import Process, tasks_go_to, wait_for

pytestmark = pytest.mark.broker

# Takes one message as a worker does, and then neither acknowledges nor gives it back.
TAKE_AND_HANG = """
import sys, time
from service.celery import app
app.conf.broker_url = sys.argv[1]
with app.connection_for_write() as connection:
    taken = connection.SimpleQueue("celery").get(timeout=20)
    print("taken", flush=True)
    time.sleep(600)
"""


def test_comes_back_once_after_a_kill(valkey, tmp_path):
    with tasks_go_to(valkey):
        sent = app.send_task("any.name", args=[7])
        taker = Process([sys.executable, "-c", TAKE_AND_HANG, valkey], tmp_path / "taker.log")
        try:
            wait_for("the taking", lambda: taker.said("taken"))
        finally:
            taker.popen.kill()
            taker.popen.wait()
        assert broker.give_back_unfinished() == 1
        assert broker.give_back_unfinished() == 0
        with app.connection_for_write() as connection:
            queue = connection.SimpleQueue("celery")
            again = queue.get(timeout=5)
            assert again.headers["id"] == sent.id
            again.ack()
            with pytest.raises(queue.Empty):
                queue.get(block=False)
        assert broker.give_back_unfinished() == 0
