"""What a draft was made from, and whether that still holds: days, facts, needs, orders, the plan published last.

Wear needs no mention: whoever computes a bow's wear anew writes its needs anew. So a bow that needs nothing may be shot
all day long, and no reader of the day waits for a patch that would change nothing.
"""

from datetime import date

from django.db.models import Count, Max, Q

from fleet.lookups import last_fact
from fleet.models import AuditEntry, Site
from service.models import OPEN_ORDER, Need, Plan, WorkOrder

# What no plan reads: people's pages, sign-ins, feeds and tokens; and use and places, which count once wear is computed.
NOT_READ = frozenset({
    "save_view", "forget_view", "choose_theme", "choose_language", "ask_for_digest", "stop_digest", "make_feed",
    "revoke_feed", "make_device_token", "revoke_device_token", "take_second_factor", "use_recovery_code",
    "drop_second_factor", "keep_check_photo", "add_shots", "add_many_shots", "correct_shots", "withdraw_shots",
    "add_stay", "add_many_stays", "add_many_readings", "move_to_place", "seal_again",
})  # fmt: skip
# Written on the bow at its new site, while the former one plans without it too.
OF_TWO_SITES = "move_to_site"
LOOKED_THROUGH_AGAIN = 500
"""After so many facts that changed nothing, the draft notes that it was held against them."""


def made_from(site: Site, first_day: date, days: int) -> dict[str, str | int]:
    """What a draft's report keeps of it."""
    return {"stamp": _stamp(site, first_day, days), "read_to": last_fact()}


def still_holds(saved: Plan, first_day: date, days: int) -> bool:
    """Whether nothing that a saved draft was made from has changed since, for a plan of these days."""
    site, read_to = saved.site, saved.report.get("read_to")
    if read_to is None or saved.report.get("stamp") != _stamp(site, first_day, days):
        return False
    last = last_fact()
    since = AuditEntry.objects.filter(pk__gt=read_to, pk__lte=last).exclude(verb__in=NOT_READ)
    if since.filter(Q(bow=None) | Q(bow__site=site) | Q(verb=OF_TWO_SITES)).exists():
        return False
    if last - read_to > LOOKED_THROUGH_AGAIN:
        saved.report["read_to"] = last
        saved.save(update_fields=["report"])
    return True


def _stamp(site: Site, first_day: date, days: int) -> str:
    """Days, needs and orders as they stand, last plan published."""
    needs = Need.objects.filter(bow__site=site).aggregate(count=Count("pk"), last=Max("pk"))
    # Of tens of thousands of orders those that are open tell all: each order that opens is the last one, each that
    # closes leaves them, and none comes back.
    last_order = WorkOrder.objects.filter(site=site).aggregate(last=Max("pk"))["last"]
    opened = WorkOrder.objects.filter(site=site, status__in=OPEN_ORDER)
    orders = opened.aggregate(count=Count("pk"), started=Max("started_at"), signed=Max("signed_at"))
    published = Plan.objects.filter(site=site).aggregate(last=Max("published_at"))["last"]
    stands = (first_day, days, *needs.values(), last_order, *orders.values(), published)
    return " ".join(str(one) for one in stands)
