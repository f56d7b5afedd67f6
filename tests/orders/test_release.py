"""Releasing: a second person where the work is critical, and only of what the order answers."""

from datetime import timedelta

import pytest

from fleet import lookups, record
from fleet.models import Bow, Person, SignedResult
from fleet.record import Refused
from fleet.vocabulary import BowState
from service import decide
from service.models import NeedKind, OrderStatus, WorkOrder
from service.orders import close
from service.verdicts import verdict_of
from tests import personas
from tests.orders.bench import NOW, enter, fresh_bow, issued, new_set, on_reference, worn_bow

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(minutes=20)


def settled_bow(shop: personas.Shop) -> Bow:
    bow = fresh_bow(shop)
    for fitting in bow.fittings.all():
        record.reset_cord(by=shop.technician, fitting=fitting, at=personas.before(1))
    return bow


def signed(shop: personas.Shop, order: WorkOrder, *, replace_set: bool = False) -> WorkOrder:
    enter(order, shop, readings=on_reference(order), cords=new_set(order) if replace_set else [])
    close.sign(order, by=shop.technician, now=NOW)
    order.refresh_from_db()
    return order


def release(order: WorkOrder, by: Person) -> WorkOrder:
    return close.release(order, by=by, now=LATER)


class TestWho:
    def test_a_new_set_is_released_by_somebody_else(self, shop: personas.Shop) -> None:
        order = signed(shop, issued(shop, worn_bow(shop)), replace_set=True)
        assert close.is_critical(order)
        said = "is critical work performed by Larkspur Technician: a second person checks and releases it"
        with pytest.raises(Refused, match=said):
            release(order, shop.technician)
        assert lookups.state_of(order.bow) == BowState.ON_BENCH
        released = release(order, shop.manager)
        result = SignedResult.objects.get(order_number=order.number)
        assert (released.status, released.closed_at) == (OrderStatus.RELEASED, LATER)
        assert (result.performed_by, result.released_by, result.released_at) == (shop.technician, shop.manager, LATER)

    def test_work_after_an_incident_is_critical(self, shop: personas.Shop) -> None:
        bow = settled_bow(shop)
        record.report_incident(by=shop.counter, bow=bow, kind="drop", happened_at=NOW, key="d", now=NOW)
        order = signed(shop, issued(shop, bow))
        with pytest.raises(Refused, match="a second person"):
            release(order, shop.technician)

    def test_a_cord_replaced_under_an_inspection_is_critical_too(self, shop: personas.Shop) -> None:
        order = issued(shop, settled_bow(shop))
        assert not close.is_critical(order)
        enter(order, shop, readings=on_reference(order), cords=new_set(order)[:1])
        close.sign(order, by=shop.technician, now=NOW)
        with pytest.raises(Refused, match="a second person"):
            release(order, shop.technician)

    def test_an_inspection_may_be_released_by_its_performer(self, shop: personas.Shop) -> None:
        order = signed(shop, issued(shop, settled_bow(shop)))
        assert release(order, shop.technician).status == OrderStatus.RELEASED

    @pytest.mark.parametrize("status", ["issued", "in work", "released"])
    def test_only_a_signed_order_is_released(self, shop: personas.Shop, status: str) -> None:
        order = issued(shop, settled_bow(shop))
        if status == "in work":
            enter(order, shop)
        elif status == "released":
            release(signed(shop, order), shop.manager)
        with pytest.raises(Refused, match=f"order {order.number} is {status}: only a signed order is released"):
            release(order, shop.manager)


class TestState:
    def test_the_bow_is_ready_and_the_next_inspection_counts_from_the_order(self, shop: personas.Shop) -> None:
        bow = settled_bow(shop)
        release(signed(shop, issued(shop, bow)), shop.manager)
        assert lookups.state_of(bow) == BowState.READY
        decide.refresh([bow.pk], LATER)
        assert verdict_of(bow, LATER).may_go
        assert bow.needs.get(kind=NeedKind.INSPECTION).reason.startswith("last looked over on 2026-07-01")

    def test_a_condemned_cord_found_and_replaced_no_longer_holds(self, shop: personas.Shop) -> None:
        order = issued(shop, worn_bow(shop))
        cords = new_set(order, removed_why="condemned", finding="deep_fuzz")
        enter(order, shop, readings=on_reference(order), cords=cords)
        close.sign(order, by=shop.technician, now=NOW)
        assert len(lookups.open_holds(order.bow)) == 3
        release(order, shop.manager)
        assert lookups.open_holds(order.bow) == []
        assert lookups.state_of(order.bow) == BowState.READY

    def test_a_condemned_cord_replaced_under_an_inspection_no_longer_holds(self, shop: personas.Shop) -> None:
        order = issued(shop, settled_bow(shop))
        cords = new_set(order, removed_why="condemned", finding="glazed")[:1]
        enter(order, shop, readings=on_reference(order), cords=cords)
        close.sign(order, by=shop.technician, now=NOW)
        release(order, shop.manager)
        assert lookups.state_of(order.bow) == BowState.READY

    def test_a_drop_after_the_inspection_was_ordered_still_holds(self, shop: personas.Shop) -> None:
        bow = settled_bow(shop)
        order = issued(shop, bow)
        record.report_incident(by=shop.counter, bow=bow, kind="drop", happened_at=NOW, key="d", now=NOW)
        release(signed(shop, order), shop.manager)
        assert lookups.state_of(bow) == BowState.HELD
        decide.refresh([bow.pk], LATER)
        assert [need.kind for need in bow.needs.filter(holds=True)] == [NeedKind.INCIDENT]

    def test_a_hold_since_the_signature_is_not_answered_by_it(self, shop: personas.Shop) -> None:
        bow = settled_bow(shop)
        record.report_incident(by=shop.counter, bow=bow, kind="drop", happened_at=NOW, key="d", now=NOW)
        order = signed(shop, issued(shop, bow))
        since = NOW + timedelta(minutes=5)
        record.report_incident(by=shop.technician, bow=bow, kind="derailed", happened_at=since, key="e", now=since)
        release(order, shop.manager)
        assert [hold.detail for hold in lookups.open_holds(bow)] == ["derailed on 2026-07-01 09:05 MDT"]
        assert lookups.state_of(bow) == BowState.HELD

    def test_every_answered_hold_is_closed_by_the_one_release(self, shop: personas.Shop) -> None:
        bow = settled_bow(shop)
        for key in ("drop", "derailed"):
            record.report_incident(by=shop.counter, bow=bow, kind=key, happened_at=NOW, key=key, now=NOW)
        release(signed(shop, issued(shop, bow)), shop.manager)
        assert lookups.open_holds(bow) == []
        assert bow.releases.get().holds.count() == 2

    def test_heat_is_over_once_the_bench_has_looked(self, shop: personas.Shop) -> None:
        bow = settled_bow(shop)
        start = personas.before(hours=6)
        record.park_in_vehicle(
            by=shop.counter, bow=bow, start=start, end=start + timedelta(minutes=3), cabin_c=84.0, key="p", now=NOW
        )
        decide.refresh([bow.pk], NOW)
        assert not verdict_of(bow, NOW).may_go
        release(signed(shop, issued(shop, bow)), shop.manager)
        decide.refresh([bow.pk], LATER)
        assert verdict_of(bow, LATER).may_go
