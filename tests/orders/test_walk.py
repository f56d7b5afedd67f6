"""The whole way: facts in, wear out, needs, a planned day, an order, results back in, released."""

from datetime import UTC, datetime, timedelta

import pytest

from fleet import lookups, record
from fleet.vocabulary import BowState
from service import decide, schedule
from service.models import CordWear, Need, NeedKind, OrderStatus
from service.orders import close, work
from service.orders.issue import issue_now
from service.orders.paper import cover_of, sheet_of
from service.printing.pdf import render_queue
from tests import personas

pytestmark = pytest.mark.django_db


def test_walk() -> None:
    shop = personas.shop()
    bow = personas.fitted_bow(shop)
    personas.shoot(shop, bow, 4_900)
    now = datetime.now(UTC)
    assert decide.rebuild(now) == 3
    wear = CordWear.objects.get(fitting__bow=bow, fitting__position="string")
    print(wear.reason, wear.replace_on, wear.replace_basis)
    for need in Need.objects.all():
        print(need.kind, need.due_on, need.reason)
    plan = schedule.draft(shop.site, schedule.today_at(shop.site, now), 28, now)
    print(list(plan.jobs.values()), list(plan.unplaced.values()))
    order = issue_now(bow, day=schedule.today_at(shop.site, now), by=shop.technician, now=now)
    pdf = render_queue(cover_of(shop.site, order.day, [order], now), [sheet_of(order)], "letter")
    open("/tmp/walk.pdf", "wb").write(pdf)
    print(order.frozen["steps"])
