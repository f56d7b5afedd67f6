"""Pages of a list whose length is known, so that nothing is counted twice and no page is read from the far end."""

from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet


def counted_page(rows: Any, per_page: int, count: int, number: str | None) -> "Page[Any]":
    """A page of rows of which there are `count`; the nearest one where there is none of that number."""
    pages: Paginator[Any] = Paginator(rows, per_page)
    # Django counts when it first needs the length; told beforehand, it never does.
    pages.count = count
    return pages.get_page(number)


def walk_to(first: int, last: int, count: int) -> int:
    """How many rows are passed to read those from `first` up to `last` of `count` from the nearer end."""
    return count - first if first > count / 2 else last


def from_nearer_end(in_order: QuerySet[Any, Any], first: int, last: int, count: int) -> list[Any]:
    """The rows from `first` up to `last` (not with it) of `count`, in their order."""
    if first > count / 2:
        return list(in_order.reverse()[count - last : count - first])[::-1]
    return list(in_order[first:last])
