"""A draft stops to hold with every step of every order, though the open orders alone are asked."""

from dataclasses import dataclass
from datetime import timedelta

import pytest

from fleet.models import Bow
from service.models import OrderStatus, Plan, WorkOrder
from service.planning.made_from import made_from, still_holds
from tests import personas
from tests.personas import NOW, Shop
from tests.service.test_schedule import bow

pytestmark = pytest.mark.django_db

TODAY, DAYS = NOW.date(), 14


@dataclass
class Orders:
    """The orders of a shop, moved here without their verbs: no audit row tells of them."""

    shop: Shop

    def issue(self, of: Bow) -> WorkOrder:
        made = {"site": self.shop.site, "bow": of, "day": TODAY, "minutes": 35, "issued_by": self.shop.manager}
        return WorkOrder.objects.create(number=f"W-{WorkOrder.objects.count()}", issued_at=NOW, **made)

    def move(self, order: WorkOrder, status: OrderStatus, after_h: int) -> None:
        moment = {OrderStatus.IN_WORK: "started_at", OrderStatus.SIGNED: "signed_at"}.get(status, "closed_at")
        order.status = status
        setattr(order, moment, NOW + timedelta(hours=after_h))
        order.save()

    def change_the_draft(self) -> bool:
        """Whether what was noted last no longer holds; what holds now is noted."""
        site = self.shop.site
        saved = Plan.objects.filter(site=site).first() or Plan(site=site, first_day=TODAY, days=DAYS, made_at=NOW)
        held = bool(saved.report) and still_holds(saved, TODAY, DAYS)
        saved.report = made_from(site, TODAY, DAYS)
        saved.save()
        assert still_holds(saved, TODAY, DAYS)
        return not held


@pytest.fixture
def orders(db: None) -> Orders:
    return Orders(personas.shop())


def test_each_step_of_an_order_counts(orders: Orders) -> None:
    orders.change_the_draft()
    one = orders.issue(bow(orders.shop, "A"))
    assert orders.change_the_draft()
    for after_h, status in enumerate((OrderStatus.IN_WORK, OrderStatus.SIGNED, OrderStatus.RELEASED)):
        orders.move(one, status, after_h)
        assert orders.change_the_draft(), status
    assert not orders.change_the_draft()


def test_one_that_opens_for_one_that_closes_counts(orders: Orders) -> None:
    """As many are open as before, and begun as late as before."""
    one, other = (orders.issue(bow(orders.shop, tag)) for tag in "AB")
    orders.move(one, OrderStatus.IN_WORK, 1)
    orders.change_the_draft()
    orders.move(other, OrderStatus.CANCELLED, 2)
    orders.issue(bow(orders.shop, "C"))
    assert orders.change_the_draft()


def test_one_that_is_begun_as_another_is_signed_counts(orders: Orders) -> None:
    one, other = (orders.issue(bow(orders.shop, tag)) for tag in "AB")
    orders.move(one, OrderStatus.IN_WORK, 1)
    orders.change_the_draft()
    orders.move(one, OrderStatus.SIGNED, 2)
    orders.move(other, OrderStatus.IN_WORK, 2)
    assert orders.change_the_draft()
