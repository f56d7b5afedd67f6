"""Rows -> the table "May it go out?", for one bow or a page of them."""

from collections import defaultdict
from datetime import datetime

from fleet import lookups
from fleet.models import Bow
from service.models import Need
from service.schedule import today_at
from service.verdict import DueNeed, Verdict, may_go_out


def verdicts_of(bows: list[Bow], now: datetime) -> dict[int, Verdict]:
    """The verdict of each bow; two queries however many."""
    ids = [bow.pk for bow in bows]
    states = dict(lookups.with_state(Bow.objects.filter(pk__in=ids)).values_list("pk", "state"))
    needs: dict[int, list[DueNeed]] = defaultdict(list)
    for need in Need.objects.filter(bow__in=ids).order_by("due_on"):
        needs[need.bow_id].append(DueNeed(need.kind, need.due_on, need.latest_on, need.reason, need.holds))
    return {
        bow.pk: may_go_out(
            states[bow.pk],
            needs[bow.pk],
            today_at(bow.site, now),
            bow.site.timing_grace_days,
            bow.site.guests_shoot_in,
        )
        for bow in bows
    }


def verdict_of(bow: Bow, now: datetime) -> Verdict:
    """The verdict of one bow."""
    return verdicts_of([bow], now)[bow.pk]
