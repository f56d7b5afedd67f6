"""One process at a time brings a site's draft up to date; whoever reads meanwhile gets it as it stands, seconds old.

Where facts change every second, each reader of the day would otherwise patch the whole plan for themselves.
"""

from collections.abc import Iterator
from contextlib import contextmanager, suppress

from django.core.cache import caches
from redis.exceptions import RedisError

from fleet.models import Site

LONGEST_S = 120
"""A process that was killed meanwhile keeps the others from it for no longer."""


@contextmanager
def patching(site: Site) -> Iterator[bool]:
    """Whether it is for this process to patch the site's draft: nobody else does so now. Without a broker it is."""
    key = f"patching:{site.pk}"
    try:
        mine = caches["shared"].add(key, 1, timeout=LONGEST_S)
    except (RedisError, OSError):
        yield True
        return
    try:
        yield mine
    finally:
        if mine:
            with suppress(RedisError, OSError):
                caches["shared"].delete(key)
