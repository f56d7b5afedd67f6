"""Counts that all web processes share: in the broker's memory, and while it is away in each process for itself.

A limit is then at most so many times higher: nobody must be refused because the broker is away.
"""

from django.core.cache import caches
from django.core.cache.backends.base import BaseCache
from redis.exceptions import RedisError


def count(key: str, amount: int, kept_s: int) -> int:
    """Add to a count and return it; it starts from nothing `kept_s` seconds after its first one. 0 only looks."""
    try:
        return _add(caches["shared"], key, amount, kept_s)
    except (RedisError, OSError):
        return _add(caches["default"], key, amount, kept_s)


def _add(cache: BaseCache, key: str, amount: int, kept_s: int) -> int:
    if not amount:
        return int(cache.get(key) or 0)
    cache.add(key, 0, timeout=kept_s)
    try:
        return int(cache.incr(key, amount))
    except ValueError:  # it ended between the two calls
        return amount
