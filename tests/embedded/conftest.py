"""Starts real services and leaves none behind, whatever a test does to them."""

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from service.embedded import broker, leftovers
from tests.embedded.running import Start, free_port
from tests.migrated import BOOK, put_empty_book


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., Start]]:
    """Call it to start the service on this test's data directory; by default each time on the same free port."""
    port, begun = free_port(), []

    def begin(
        *options: str, at_port: int = port, directory: str = "book", demo: bool = False, **settings: str
    ) -> Start:
        with_or_without = () if demo else ("--no-demo",)
        book = tmp_path / directory / BOOK
        if not demo and not book.exists():
            book.parent.mkdir(exist_ok=True)
            put_empty_book(book)
        begun.append(Start(tmp_path / directory, at_port, *with_or_without, *options, **settings))
        return begun[-1]

    yield begin
    for one in begun:
        one.process.end()
        left = leftovers.marked(one.data_directory) | {broker.listener(one.data_directory / "broker.sock")}
        for process in left - {None}:
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
