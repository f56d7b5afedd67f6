"""What the figures on a screen or a sheet rest on that nobody has published, measured or learned."""

from collections.abc import Iterable

from fleet.models import Site
from service.coefficient_names import coefficient_name
from service.models import CordWear


def assumed_names(wears: Iterable[CordWear]) -> set[str]:
    """The assumed coefficients behind the wear of some cords."""
    return {name for wear in wears for name in wear.assumed}


def assumed_on_bows(bow_ids: Iterable[int]) -> set[str]:
    """The assumed coefficients behind the needs and dates of some bows; one query."""
    wears = CordWear.objects.filter(fitting__bow__in=list(bow_ids), fitting__removed_at=None)
    return assumed_names(wears.only("assumed"))


def assumed_at_site(site: Site) -> set[str]:
    """The assumed coefficients behind the dates of every bow in service at a site; one query."""
    wears = CordWear.objects.filter(fitting__removed_at=None, fitting__bow__site=site, fitting__bow__retirement=None)
    # Few different lists stand behind thousands of cords.
    return {name for names in wears.values_list("assumed", flat=True).order_by().distinct() for name in names}


def told(names: Iterable[str]) -> list[str]:
    """Names of coefficients in words, in alphabetical order."""
    return sorted({coefficient_name(name) for name in names})
