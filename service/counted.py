"""A paginator that is told how long its list is, so that nothing is counted twice."""

from typing import Any

from django.core.paginator import Paginator
from django.utils.functional import cached_property


class Counted(Paginator):  # type: ignore[type-arg]
    """Pages of rows whose number is known."""

    def __init__(self, rows: Any, per_page: int, count: int) -> None:
        super().__init__(rows, per_page)
        self._known = count

    @cached_property
    def count(self) -> int:
        """How many rows there are."""
        return self._known
