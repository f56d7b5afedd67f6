"""Two people doing the same thing at the same instant, each with a connection of their own."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

from django.db import connection

from fleet.refusal import Refused


def at_once(*acts: Callable[[], Any]) -> tuple[list[Any], list[str]]:
    """Run the acts side by side; what each that came through returned, and what each refused one was told.

    Anything but a refusal is the test's failure: it is raised.
    """
    start = Barrier(len(acts))

    def run(act: Callable[[], Any]) -> tuple[Any, str]:
        try:
            start.wait(timeout=30)
            return act(), ""
        except Refused as refused:
            return None, str(refused)
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as pool:
        ends = list(pool.map(run, acts))
    return [done for done, told in ends if not told], [told for _, told in ends if told]
