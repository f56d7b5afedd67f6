"""The shared fixtures themselves: a task sent by a test is run by another process on the test's own database."""

import pytest

from service.celery import app
from tests.machinery import wait_for

pytestmark = pytest.mark.broker


def test_worker_runs_a_task_sent_by_the_test(worker):
    """Celery's own `backend_cleanup` is a task that needs nothing of ours."""
    app.send_task("celery.backend_cleanup")
    wait_for("the task", lambda: worker.said("celery.backend_cleanup") and worker.said("succeeded"))
