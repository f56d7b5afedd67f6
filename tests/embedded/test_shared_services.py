"""The fixtures that other tests rest on do what they say."""

import pytest

from service.celery import app
from tests.machinery import wait_for

pytestmark = pytest.mark.broker


def test_worker_runs_a_task_sent_by_the_test(worker):
    """Celery's own `backend_cleanup` is a task that needs nothing of ours."""
    app.send_task("celery.backend_cleanup")
    wait_for("the task", lambda: worker.said("Task celery.backend_cleanup") and worker.said("succeeded"))


def test_redis_from_debian_serves_as_broker_too(redis_server):
    with app.connection_for_write(redis_server) as connection:
        queue = connection.SimpleQueue("greeting")
        queue.put("brace")
        assert queue.get(timeout=5).payload == "brace"


def test_database_of_its_own_on_a_postgresql_server(postgresql_database):
    import psycopg

    with psycopg.connect(postgresql_database) as connection:
        assert connection.info.dbname.startswith("bracebook_")
