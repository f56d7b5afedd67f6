"""A clock that stands, for commands that read it themselves."""

from collections.abc import Iterator

import pytest
import time_machine

from tests import personas


@pytest.fixture
def standing_clock() -> Iterator[None]:
    """The clock stands at the personas' NOW."""
    with time_machine.travel(personas.NOW, tick=False):
        yield
