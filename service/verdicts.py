"""Rows -> the table "May it go out?", for one bow or a page of them."""

from collections import defaultdict
from datetime import datetime

from fleet import lookups
from fleet.models import Bow, Fitting
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, Position
from service.models import Need
from service.schedule import today_at
from service.verdict import DueNeed, Verdict, may_go_out
from service.wording import named


def verdicts_of(bows: list[Bow], now: datetime) -> dict[int, Verdict]:
    """The verdict of each bow; three queries however many."""
    ids = [bow.pk for bow in bows]
    rows = lookups.with_state(Bow.objects.filter(pk__in=ids)).values_list("pk", "state", "spec_sheet__cam_system")
    stands = {pk: (state, POSITIONS_BY_CAM_SYSTEM[system]) for pk, state, system in rows}
    fitted = set(Fitting.objects.filter(bow__in=ids, removed_at=None).values_list("bow_id", "position"))
    needs: dict[int, list[DueNeed]] = defaultdict(list)
    for need in Need.objects.filter(bow__in=ids).order_by("due_on"):
        needs[need.bow_id].append(DueNeed(need.kind, need.due_on, need.latest_on, need.reason, need.holds))
    return {
        bow.pk: may_go_out(
            stands[bow.pk][0],
            needs[bow.pk],
            today_at(bow.site, now),
            bow.site.timing_grace_days,
            bow.site.guests_shoot_in,
            [named(Position(position).label) for position in stands[bow.pk][1] if (bow.pk, position) not in fitted],
        )
        for bow in bows
    }


def verdict_of(bow: Bow, now: datetime) -> Verdict:
    """The verdict of one bow."""
    return verdicts_of([bow], now)[bow.pk]
