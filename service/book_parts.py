"""The book in parts, for what goes through all of it: the memory it takes does not grow with the number of sites."""

from collections.abc import Iterator

from fleet.models import Bow

PART_BOWS = 800
"""So many bows have fewer fittings, removed ones too, than are asked for by name (`fitted.MOST_NAMED`)."""


def book_parts(among: set[int] | None = None) -> Iterator[list[int]]:
    """Ids of bows (of all, or among these): whole sites, together at most PART_BOWS; a larger site is one part.

    Sites are not cut, because the temperatures of a site's places are read once for each part.
    """
    part: list[int] = []
    for bows in _by_site(among):
        if part and len(part) + len(bows) > PART_BOWS:
            yield part
            part = []
        part = [*part, *bows]
    if part:
        yield part


def _by_site(among: set[int] | None) -> list[list[int]]:
    found: dict[int, list[int]] = {}
    for bow, site in Bow.objects.order_by("site", "pk").values_list("pk", "site_id"):
        if among is None or bow in among:
            found.setdefault(site, []).append(bow)
    return list(found.values())
