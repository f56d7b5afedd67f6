"""The list of bows of a site, narrowed to what a person looks for."""

from typing import Any

from django.db.models import Q, QuerySet

from fleet import lookups
from fleet.models import Bow, Site
from fleet.vocabulary import BowState


def bows_of(site: Site, text: str = "", state: str = "") -> QuerySet[Any]:
    """Bows annotated with `state`, by tag: those whose tag or serial holds the text, in a state.

    With no state asked for, all but the retired ones.
    """
    bows = lookups.with_state(Bow.objects.filter(site=site).select_related("spec_sheet", "site"))
    if text:
        bows = bows.filter(Q(tag__icontains=text) | Q(serial__icontains=text))
    bows = lookups.in_state(bows, state) if state in BowState.values else bows.filter(retirement=None)
    return bows.order_by("tag")
