"""A shop served to a real browser, as of the real day."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from service import decide
from tests import personas
from tests.committed import committed_book
from tests.personas import Shop

__all__ = ["committed_book"]

PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 900}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything here drives a browser."""
    for item in items:
        if "tests/e2e" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)


@pytest.fixture
def shop(committed_book: None, monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Any) -> Shop:
    """Larkspur Range with its people, as of now; what is uploaded goes to a folder of the test's own."""
    monkeypatch.setattr(personas, "NOW", datetime.now(UTC))
    settings.DATA_DIR = tmp_path
    return personas.shop()


@pytest.fixture
def computed() -> Callable[[], int]:
    """Computes wear and needs of everything, as the worker would."""
    return lambda: decide.rebuild(personas.NOW)
