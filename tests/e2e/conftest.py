"""A shop served to a real browser, as of the real day."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from django.db import connection
from django.test import TransactionTestCase

from service import decide
from tests import personas
from tests.personas import Shop

PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 900}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything here drives a browser."""
    for item in items:
        if "tests/e2e" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)


@pytest.fixture(autouse=True, scope="module")
def _audit_rows_go_with_the_test() -> Iterator[None]:
    """Empty the database after a test although its triggers keep audit rows: they are taken off and put back.

    Only SQLite needs it: PostgreSQL truncates, and a truncation fires no row's trigger.
    """
    empty = TransactionTestCase._fixture_teardown

    def without_triggers(case: TransactionTestCase) -> None:
        if connection.vendor != "sqlite":
            empty(case)
            return
        with connection.cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            triggers = cursor.fetchall()
            for name, _ in triggers:
                cursor.execute(f'DROP TRIGGER "{name}"')
            empty(case)
            for _, sql in triggers:
                cursor.execute(sql)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", without_triggers)
        yield


@pytest.fixture
def shop(transactional_db: None, monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Any) -> Shop:
    """Larkspur Range with its people, as of now; what is uploaded goes to a folder of the test's own."""
    monkeypatch.setattr(personas, "NOW", datetime.now(UTC))
    settings.DATA_DIR = tmp_path
    return personas.shop()


@pytest.fixture
def computed() -> Callable[[], int]:
    """Computes wear and needs of everything, as the worker would."""
    return lambda: decide.rebuild(personas.NOW)
